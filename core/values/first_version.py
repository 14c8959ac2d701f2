"""Names of the first version, read for good and never written: files and logs in its words become today's here.

Nothing else in the program knows them. What is called at the border: `lathe_table` and `operation_table` where the
tables of a file were parsed, `event_body` where a row of the log was decoded. A table in today's names is not changed.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

Names = Mapping[str, str]
"""Today's names by those of the first version."""
OnClash = Callable[[str, str], None]
"""Called with an old and a new name that one table gives for the same thing."""

DIALS: Names = {"saddle": "carriage", "cutter_head": "boring_head"}
LATHE_PARTS: Names = {"chasing_dial": "thread_dial"}
LATHE_KEYS: Mapping[str, Names] = {"spindle": {"run_down": "coast_turns"}, "stock": {"packing": "shims"}}
OPERATION_KEYS: Names = {"set_over": "compound_angle", "holding": "workholding", "axis_height_error": "height_error"}
LAYER_KEYS: Names = {"cutter_radius": "circle_radius", "left_out": "skip"}
KINDS: Names = {"index": "divide", "bolts": "holes", "check": "by_hand", "rings": "pattern"}
MEETINGS: Names = {"touch": "points", "touch grooves": "grooves"}
"""What a radius that follows from the others was called, by what meets."""
FIGURES: Names = {
    "fim_mm": "tir_mm",
    "rings": "layers",
    "between_rings": "between_layers",
    "set_over_deg": "compound_angle_deg",
    "chasing_dial": "thread_dial",
    "cutter_radius_mm": "circle_radius_mm",
    "ring": "layer",
}
"""Figures of a plan, and what its steps hold besides."""
MOVES: Names = {"pack": "shim"}

FIRST_CUT = "cut"
"""A face or a groove in one. A file's becomes what its dial says; a run of one continues as it was started."""
_GROOVING_DIALS = frozenset({"cross_slide", "boring_head"})
"""Those by which a `cut` made a groove; a dial that goes along the bed made a face."""
_NAME_OF_CUTTER = "cutter"
_OLD_RINGS, _OLD_RING = "rings", "ring"
_DIAL_KEYS = ("dial", "depth_dial")
OLD_WORDS = re.compile(
    '"(?:'
    + "|".join([*DIALS, *LATHE_PARTS, *(key for keys in LATHE_KEYS.values() for key in keys), *OPERATION_KEYS])
    + "|"
    + "|".join([*LAYER_KEYS, *FIGURES])
    + f')"|"kind":"(?:{"|".join([*KINDS, FIRST_CUT])})"|"how":"(?:{"|".join(MOVES)})"'
)
"""Finds the body of an event, as it is written, that may hold a name of the first version."""


# Files.


def lathe_table(data: Mapping[str, Any], on_clash: OnClash | None = None) -> Mapping[str, Any]:
    """Return the tables of a lathe file in today's names; the very same table where it has no others.

    >>> lathe_table({"dial": {"saddle": {"graduation": "0.1 mm"}}})
    {'dial': {'carriage': {'graduation': '0.1 mm'}}}
    """
    found = _renamed(data, LATHE_PARTS, on_clash)
    parts = {"dial": DIALS, **LATHE_KEYS}
    changed = {
        part: table
        for part, names in parts.items()
        if isinstance(found.get(part), Mapping) and (table := _renamed(found[part], names, on_clash)) is not found[part]
    }
    return _with(found, changed)


def lathe_path(path: Sequence[str]) -> tuple[str, ...]:
    """Return where a part or a key of a lathe file stands today.

    >>> lathe_path(("dial", "saddle", "backlash")), lathe_path(("stock", "packing"))
    (('dial', 'carriage', 'backlash'), ('stock', 'shims'))
    """
    if not path:
        return ()
    inner = {"dial": DIALS, **LATHE_KEYS}.get(path[0], {})
    return (LATHE_PARTS.get(path[0], path[0]), *(inner.get(key, key) for key in path[1:2]), *path[2:])


def operation_table(data: Mapping[str, Any], on_clash: OnClash | None = None) -> Mapping[str, Any]:
    """Return an operation's table of a job file in today's names; the very same table where it has no others.

    >>> operation_table({"kind": "cut", "dial": "saddle", "from": "0 mm", "to": "2 mm"})["kind"]
    'face'
    >>> operation_table({"kind": "thread", "set_over": "29 deg"})
    {'kind': 'thread', 'compound_angle': '29 deg'}
    """
    found = _operation_table(data, on_clash)
    if found.get("kind") == FIRST_CUT:
        return {**found, "kind": "groove" if found.get("dial") in list(_GROOVING_DIALS) else "face"}
    return found


def written_names(data: Mapping[str, Any]) -> Names:
    """Return the names of the first version that a file's table uses, by today's, for what is said of them.

    >>> written_names({"kind": "thread", "set_over": "29 deg"})
    {'compound_angle': 'set_over'}
    """
    names = {**OPERATION_KEYS, **LAYER_KEYS, **DIALS, **LATHE_PARTS}
    for keys in LATHE_KEYS.values():
        names |= keys
    inner = [table for value in data.values() for table in (value if _is_list(value) else [value])]
    used = {*data, *(key for table in inner for key in _keys(table))}
    return {today: old for old, today in names.items() if old in used}


def key_now(key: str) -> str:
    """Return today's name of a key that stands in an operation's table itself.

    >>> key_now("holding"), key_now("divisions")
    ('workholding', 'divisions')
    """
    return OPERATION_KEYS.get(key, key)


def kind_now(kind: str) -> str:
    """Return today's name of a kind; that of a run of `cut`, which has no other, as it is.

    >>> kind_now("bolts"), kind_now("turn")
    ('holes', 'turn')
    """
    return KINDS.get(kind, kind)


def clash_words(old: str, new: str) -> str:
    """Say that a table gives one thing under its name of the first version and under today's.

    >>> clash_words("saddle", "carriage")
    'found it together with carriage, which is its name today: give only carriage'
    """
    return f"found it together with {new}, which is its name today: give only {new}"


# The log.


def event_body(
    kind: str, logged: Mapping[str, Any], body_text: str, digest: Callable[[Any, Any], str]
) -> Mapping[str, Any]:
    """Return the body of an event of the log in today's names; `body_text`: the same as it was written.

    What a run was planned from keeps, under `logged_digest`, the digest of the parameters and the lathe as logged: by
    that it is known whether its files have changed.
    """
    if not OLD_WORDS.search(body_text):
        return logged
    body = dict(logged)
    match kind:
        case "begun":
            body = _planned_from(body, digest)
            if isinstance(body.get("plan"), Mapping):
                body["plan"] = _plan(body["plan"])
        case "done":
            if isinstance(body.get("value"), Mapping):
                body["value"] = _renamed(body["value"], DIALS)
        case "revised":
            if isinstance(body.get("given"), Mapping):
                body["given"] = _run_input(body["given"], digest)
            body["steps"] = _each(body.get("steps"), _step)
    return body


def _planned_from(body: Mapping[str, Any], digest: Callable[[Any, Any], str]) -> dict[str, Any]:
    """Return what a run is planned from: kind, parameters, lathe, and what was answered at the counter."""
    changed: dict[str, Any] = {}
    for name, translated in (("parameters", _operation_table), ("answered", _operation_table), ("lathe", lathe_table)):
        if isinstance(body.get(name), Mapping):
            changed[name] = translated(body[name])
    if isinstance(body.get("kind"), str):
        changed["kind"] = kind_now(body["kind"])
    if "parameters" in changed and "lathe" in changed:
        changed["logged_digest"] = digest(body["parameters"], body["lathe"])
    return {**body, **changed}


def _run_input(logged: Mapping[str, Any], digest: Callable[[Any, Any], str]) -> dict[str, Any]:
    found = _planned_from(logged, digest)
    if found.get("dial") in list(DIALS):
        found["dial"] = DIALS[found["dial"]]
    return found


def _plan(plan: Mapping[str, Any]) -> dict[str, Any]:
    return {**plan, "figures": _figures(plan.get("figures")), "steps": _each(plan.get("steps"), _step)}


def _step(step: Mapping[str, Any]) -> Mapping[str, Any]:
    changed: dict[str, Any] = {}
    if "settings" in step:
        changed["settings"] = _each(step["settings"], _dial_named)
    if "zeroes" in step:
        changed["zeroes"] = _each_name(step["zeroes"])
    if "extra" in step:
        changed["extra"] = _figures(step["extra"])
    return {**step, **changed}


def _dial_named(setting: Mapping[str, Any]) -> Mapping[str, Any]:
    dial = setting.get("dial")
    return {**setting, "dial": DIALS[dial]} if dial in list(DIALS) else setting


def _each_name(names: Any) -> Any:
    return [DIALS.get(name, name) if isinstance(name, str) else name for name in names] if _is_list(names) else names


def _figures(found: Any) -> Any:
    """Return figures with every name, however deep, as today's."""
    if isinstance(found, Mapping):
        named = {FIGURES.get(key, key): _figures(value) for key, value in found.items()}
        return {**named, "how": MOVES[named["how"]]} if named.get("how") in list(MOVES) else named
    return [_figures(value) for value in found] if _is_list(found) else found


# Operations.


def _operation_table(data: Mapping[str, Any], on_clash: OnClash | None = None) -> Mapping[str, Any]:
    """Return an operation's table in today's names, but for a `cut`."""
    found = _renamed(data, OPERATION_KEYS, on_clash)
    changed = {key: DIALS[found[key]] for key in _DIAL_KEYS if found.get(key) in list(DIALS)}
    if found.get("kind") in list(KINDS):
        changed["kind"] = KINDS[found["kind"]]
    if found.get("kind") == _OLD_RINGS:
        return _pattern_table(_with(found, changed), on_clash)
    return _with(found, changed)


def _pattern_table(rings: Mapping[str, Any], on_clash: OnClash | None) -> dict[str, Any]:
    """Return what was a table of rings: its cutter a table of its own, and how deep a pass goes in each layer."""
    moved = {_OLD_RING, "tip_angle", "tip_flat", "cut"}
    found = {key: value for key, value in rings.items() if key not in moved} | {"layer_order": "written"}
    cutter = {key: rings[key] for key in ("tip_angle", "tip_flat") if key in rings}
    if cutter:
        found["cutter"] = [{"name": _NAME_OF_CUTTER, **cutter}]
    if _OLD_RING in rings:
        layers = rings[_OLD_RING]
        are_deep = [ring for ring in (layers if _is_list(layers) else ()) if "depth" in _keys(ring)]

        def layer(ring: Mapping[str, Any]) -> dict[str, Any]:
            # Where no ring has a depth, a reader is to refuse how deep a pass goes.
            cut = {"cut": rings["cut"]} if "cut" in rings and (ring in are_deep or not are_deep) else {}
            return _layer_table(ring, on_clash) | cut

        found["layer"] = _each(layers, layer)
    return found


def _layer_table(ring: Mapping[str, Any], on_clash: OnClash | None) -> dict[str, Any]:
    found = dict(_renamed(ring, LAYER_KEYS, on_clash))
    radius = found.get("circle_radius")
    if isinstance(radius, str) and radius in MEETINGS:
        del found["circle_radius"]
        found["meet"] = MEETINGS[radius]
    return {"shape": "circles", **found}


# Tables.


def _renamed(table: Mapping[str, Any], names: Names, on_clash: OnClash | None = None) -> Mapping[str, Any]:
    """Return a table with today's keys, the very same one where it has no others.

    Of two keys for the same thing today's holds; an old one that `on_clash` has not been told of stays beside it.
    """
    old = [key for key in table if key in names]
    if not old:
        return table
    both = [key for key in old if names[key] in table]
    if on_clash is not None:
        for key in both:
            on_clash(key, names[key])
    kept = {key: value for key, value in table.items() if key not in both or on_clash is None}
    return {(key if key in both else names.get(key, key)): value for key, value in kept.items()}


def _with(table: Mapping[str, Any], changed: Mapping[str, Any]) -> Mapping[str, Any]:
    return {**table, **changed} if changed else table


def _keys(table: Any) -> Sequence[str]:
    return list(table) if isinstance(table, Mapping) else []


def _is_list(found: Any) -> bool:
    return isinstance(found, list | tuple)


def _each(found: Any, translated: Callable[[Mapping[str, Any]], Any]) -> Any:
    """Return a list with every table in it translated; what is none stays, for a reader to refuse."""
    return [translated(one) if isinstance(one, Mapping) else one for one in found] if _is_list(found) else found
