"""One dial as the counter shows it."""

from typing import NamedTuple


class DialShown(NamedTuple):
    """One dial as a hand sets it."""

    name: str
    number: str
    """What the mark shows, with the places its marks need; of a plate, what is counted."""
    unit: str
    turns: str
    """What comes before the number, such as whole turns from zero; "" for a readout or where there is nothing."""
    direction: str
    """Which way the handle goes, "" where it stays."""
    absolute: str = ""
    """The same place counted from zero, where the number counts from the last one."""
