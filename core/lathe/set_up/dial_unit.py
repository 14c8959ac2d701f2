"""The unit that a dial is engraved in: said, or seen from what was told of it."""

import re
from collections.abc import Mapping
from typing import Any

from core.lathe.set_up.chapter import UNIT
from core.values.errors import QuantityError
from core.values.quantities import read_quantity

_IN_DIAL_UNIT = ("per_turn", "graduation", "backlash")


_EITHER = re.compile(r"\{([^|}]*)\|([^|}]*)\}")


def in_unit(sentence: str, unit: str) -> str:
    """Return a sentence with the first of each "{0.5 mm|20 thou}" for "mm", the second for "in" and "thou".

    >>> in_unit("Go in by {0.5 mm|20 thou}.", "thou")
    'Go in by 20 thou.'
    """
    return _EITHER.sub(lambda found: found[1] if unit == "mm" else found[2], sentence)


def sizes_in(tables: Mapping[str, Any]) -> str:
    """Return what this lathe's user measures in, "mm" or "in": as the cross-slide is engraved, else the first dial.

    >>> sizes_in({"dial": {"cross_slide": {"per_turn": "100 thou"}}})
    'in'
    """
    dials = tables.get("dial", {})
    told = [dials["cross_slide"]] if "cross_slide" in dials else list(dials.values())
    return "in" if told and dial_unit(told[0]) != "mm" else "mm"


def dial_unit(table: Mapping[str, Any], unknown: str = "mm") -> str:
    """Return the unit that a dial is engraved in, as it is written: "mm", "in" or "thou"; else `unknown`.

    >>> dial_unit({"per_turn": "100 thou"})
    'thou'
    """
    if UNIT in table:
        return str(table[UNIT])
    units = (_unit_of(table.get(key)) for key in ("per_turn", "graduation"))
    return next((unit for unit in units if unit), unknown)


def in_another_unit(table: Mapping[str, Any], said: str) -> tuple[str, ...]:
    """Return the keys of what a dial's own numbers say in the other system than `said`, "mm", "in" or "thou".

    >>> in_another_unit({"per_turn": "4 mm", "graduation": "1 thou", "lead": "2 mm"}, "in")
    ('per_turn',)
    """
    units = ((key, _unit_of(table.get(key))) for key in _IN_DIAL_UNIT)
    return tuple(key for key, unit in units if unit and (unit == "mm") != (said == "mm"))


def _unit_of(told: Any) -> str:
    """Return the unit of a length as a dial has it, "" for none."""
    try:
        unit = read_quantity(told, "length").unit
    except QuantityError:
        return ""
    return unit if unit in {"in", "thou"} else "in" if unit in {"inch", '"'} else "mm"
