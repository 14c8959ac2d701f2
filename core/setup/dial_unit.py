"""The unit that a dial is engraved in: said, or seen from what was told of it."""

from collections.abc import Mapping
from typing import Any

from core.errors import QuantityError
from core.quantities import read_quantity
from core.setup.question import UNIT


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
    for key in ("per_turn", "graduation"):
        try:
            unit = read_quantity(table.get(key), "length").unit
        except QuantityError:
            continue
        return unit if unit in {"in", "thou"} else "in" if unit in {"inch", '"'} else "mm"
    return unknown
