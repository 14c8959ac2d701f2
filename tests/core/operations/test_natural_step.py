"""How far one key changes a field, against the graduations in the files of the sample lathes."""

from fractions import Fraction
from pathlib import Path

import pytest

from core.lathe.reader import read_lathe
from core.operations.form import Entry
from core.operations.natural_step import COMPOUND_SCALE, INDICATOR, natural_step

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
MIXED, INCH = read_lathe(SAMPLES / "mixed_lathe.toml"), read_lathe(SAMPLES / "inch_lathe.toml")
"""Cross-slide 0.02 mm of travel, head 0.001 in on the diameter; and an inch lathe."""
SLIDE, HEAD = ("offset_dial", "cross_slide"), ("boring_head",)


def size(entry: Entry, lathe: object = MIXED, **table: str) -> Fraction | None:
    """Return the size of a step."""
    step = natural_step(entry, table, lathe)  # type: ignore[arg-type]
    return None if step is None else step.size


def test_a_length_goes_by_a_mark_of_its_dial() -> None:
    """A travel by the mark; a diameter by twice that; a radius by half the mark of a head that reads diameters."""
    assert size(Entry("offset", "Offset", "mm", set_on=SLIDE)) == Fraction(2, 100)
    assert size(Entry("to", "Diameter", "mm", set_on=("cross_slide",), is_across=True)) == Fraction(4, 100)
    assert size(Entry("circle_radius", "Radius", "mm", set_on=HEAD)) == Fraction(254, 20_000)


def test_the_dial_that_the_form_names_comes_before_the_usual_one() -> None:
    """The carriage has a mark each 0.1 mm."""
    assert size(Entry("offset", "Offset", "mm", set_on=SLIDE), offset_dial="carriage") == Fraction(1, 10)


def test_a_length_without_a_dial_has_a_step_in_its_own_unit() -> None:
    """0.1 mm, or 5 thou; a lathe without the dial is no different."""
    assert size(Entry("blank", "Blank", "mm")) == Fraction(1, 10)
    assert size(Entry("blank", "Blank", "in"), INCH) == Fraction(127, 1000)
    assert size(Entry("circle_radius", "Radius", "in", set_on=HEAD), INCH) == Fraction(127, 1000)


def test_angles_counts_and_what_an_indicator_reads() -> None:
    """The compound's scale of the sample has a mark each degree; the indicator one each 0.01 mm."""
    assert size(Entry("start", "Start", "deg")) == 1
    assert size(Entry("angle", "Angle", "deg", set_on=(COMPOUND_SCALE,))) == 1
    assert size(Entry("error", "Error", "arcmin")) == Fraction(1, 60)
    assert size(Entry("count", "Count", whole=True)) == 1
    assert size(Entry("height_error", "Height", "mm", set_on=(INDICATOR,))) == Fraction(1, 100)


@pytest.mark.parametrize("entry", [Entry("name", "Name"), Entry("at", "Places", "mm", listed=True)])
def test_a_text_or_a_list_has_no_step(entry: Entry) -> None:
    """Nothing there is a single number."""
    assert size(entry) is None
