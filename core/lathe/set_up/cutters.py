"""Converts the cutters of a lathe from a list, as in the lathe file, to a mapping by name, as in set-up, and back."""

from collections.abc import Mapping
from typing import Any

from core.lathe.keys.cutters import CUTTER, MOST_CUTTERS
from core.lathe.keys.entry import OWN_KEY
from core.values.errors import CoreError
from core.values.plain_text import as_name, quoted

SECTION = CUTTER.section
_NAME = "name"
_LONGEST_NAME = 80


def by_name(tables: Mapping[str, Any]) -> dict[str, Any]:
    """Return the tables of a valid lathe file, with the list of cutters replaced by a mapping from names to cutters.

    >>> by_name({"cutter": [{"name": "wide", "tip_angle": "120 deg"}]})
    {'cutter': {'wide': {'tip_angle': '120 deg'}}}
    """
    found = dict(tables)
    if isinstance(found.get(SECTION), list | tuple):
        found[SECTION] = {
            as_name(cutter[_NAME]): {key: value for key, value in cutter.items() if key != _NAME}
            for cutter in found[SECTION]
        }
    return found


def as_list(tables: Mapping[str, Any]) -> dict[str, Any]:
    """Return the tables of a lathe, with the mapping of cutters replaced by a list, as in a lathe file.

    This function reverses `by_name`.
    """
    found = dict(tables)
    if isinstance(found.get(SECTION), Mapping):
        found[SECTION] = [{_NAME: name, **table} for name, table in found[SECTION].items()]
        if not found[SECTION]:
            del found[SECTION]
    return found


def cutter_name(text: str, known: Mapping[str, Any]) -> str:
    """Return the name that a user typed for a new cutter, without control characters.

    `known`: the existing cutters by name. Raises CoreError if the name is empty or already used.
    """
    name = as_name(text, _LONGEST_NAME)
    if not name or name.startswith(OWN_KEY):
        found = f"{quoted(name)} cannot be a cutter's name" if name else "The name is empty"
        raise CoreError(f"{found}. Enter a name such as wide or fine.")
    if name in known:
        raise CoreError(f"There is already a cutter {quoted(name)}. Enter another name.")
    if len(known) >= MOST_CUTTERS:
        raise CoreError(f"There are already {MOST_CUTTERS} cutters, which is the limit. Delete a cutter first.")
    return name
