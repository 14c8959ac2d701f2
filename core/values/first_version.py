"""Translates the names of the program's first version to today's names, so that old files and logs stay readable.

No other module knows the old names. Readers call `lathe_table` and `operation_table` right after parsing a file, and
`event_body` right after decoding a row of the log. A table with today's names stays unchanged.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

Names = Mapping[str, str]
"""Maps a name of the first version to today's name."""
OnClash = Callable[[str, str], None]
"""Called with the old and the new name if a table has both."""

DIALS: Names = {"saddle": "carriage", "cutter_head": "boring_head"}
LATHE_PARTS: Names = {"chasing_dial": "thread_dial"}
LATHE_KEYS: Mapping[str, Names] = {"spindle": {"run_down": "coast_turns"}, "stock": {"packing": "shims"}}
OPERATION_KEYS: Names = {"set_over": "compound_angle", "holding": "workholding", "axis_height_error": "height_error"}
LAYER_KEYS: Names = {"cutter_radius": "circle_radius", "left_out": "skip"}
KINDS: Names = {"index": "divide", "bolts": "holes", "check": "by_hand", "rings": "pattern"}
MEETINGS: Names = {"touch": "points", "touch grooves": "grooves"}
"""Maps the first version's words for a circle radius to today's names of how the circles meet."""
FIGURES: Names = {
    "fim_mm": "tir_mm",
    "rings": "layers",
    "between_rings": "between_layers",
    "set_over_deg": "compound_angle_deg",
    "chasing_dial": "thread_dial",
    "cutter_radius_mm": "circle_radius_mm",
    "ring": "layer",
}
"""Maps the first version's names of figures, of plans and of steps, to today's."""
MOVES: Names = {"pack": "shim"}
FITS: Names = {"does not go": "tight", "goes": "fits"}
"""Words for the fit of a gauge, which `core.inputs` reads in the log."""

FIRST_CUT = "cut"
"""The first version's kind for both a face and a groove.

In a file the dial decides between the two. A run keeps the kind with which it was started.
"""
_GROOVING_DIALS = frozenset({"cross_slide", "boring_head"})
"""The dials with which a `cut` was a groove. With a dial along the bed, a `cut` was a face."""
_NAME_OF_CUTTER = "cutter"
_OLD_RINGS, _OLD_RING = "rings", "ring"
_OF_RINGS: Names = {_OLD_RING: "layer", "tip_angle": "cutter", "tip_flat": "cutter", "cut": "layer"}
"""Maps keys of an old table of rings to the tables of a pattern that hold these values today."""
_DIAL_KEYS = ("dial", "depth_dial")
OLD_WORDS = re.compile(
    '"(?:'
    + "|".join([*DIALS, *LATHE_PARTS, *(key for keys in LATHE_KEYS.values() for key in keys), *OPERATION_KEYS])
    + "|"
    + "|".join([*LAYER_KEYS, *FIGURES])
    + f')"|"kind":"(?:{"|".join([*KINDS, FIRST_CUT])})"|"how":"(?:{"|".join(MOVES)})"'
)
"""Matches the text of an event's body that may have a name of the first version."""


# Files.


def lathe_table(data: Mapping[str, Any], on_clash: OnClash | None = None) -> Mapping[str, Any]:
    """Return the tables of a lathe file with today's names. If no name changes, return `data` itself.

    `on_clash`: called with the old and today's key if a table has both, and the old key is then dropped; None to keep
    it.

    >>> lathe_table({"dial": {"saddle": {"graduation": "0.1 mm"}}})
    {'dial': {'carriage': {'graduation': '0.1 mm'}}}
    """
    renamed = _renamed(data, LATHE_PARTS, on_clash)
    parts = {"dial": DIALS, **LATHE_KEYS}
    changed = {
        part: table
        for part, names in parts.items()
        if isinstance(renamed.get(part), Mapping)
        and (table := _renamed(renamed[part], names, on_clash)) is not renamed[part]
    }
    return _with(renamed, changed)


def lathe_path(path: Sequence[str]) -> tuple[str, ...]:
    """Return the path of a table or key in a lathe file with today's names. `path` may have names of the first version.

    >>> lathe_path(("dial", "saddle", "backlash")), lathe_path(("stock", "packing"))
    (('dial', 'carriage', 'backlash'), ('stock', 'shims'))
    """
    if not path:
        return ()
    inner = {"dial": DIALS, **LATHE_KEYS}.get(path[0], {})
    return (LATHE_PARTS.get(path[0], path[0]), *(inner.get(key, key) for key in path[1:2]), *path[2:])


def operation_table(data: Mapping[str, Any], on_clash: OnClash | None = None) -> Mapping[str, Any]:
    """Return the table of an operation in a job file with today's names. If no name changes, return `data` itself.

    `on_clash`: called with the old and today's key if a table has both, and the old key is then dropped; None to keep
    it.

    >>> operation_table({"kind": "cut", "dial": "saddle", "from": "0 mm", "to": "2 mm"})["kind"]
    'face'
    >>> operation_table({"kind": "thread", "set_over": "29 deg"})
    {'kind': 'thread', 'compound_angle': '29 deg'}
    """
    table = _operation_table(data, on_clash)
    if table.get("kind") == FIRST_CUT:
        return {**table, "kind": "groove" if table.get("dial") in list(_GROOVING_DIALS) else "face"}
    return table


def written_names(data: Mapping[str, Any]) -> Names:
    """Return a mapping from today's names to the old names that a table uses.

    Messages need this mapping to mention the names that are in the file.

    >>> written_names({"kind": "thread", "set_over": "29 deg"})
    {'compound_angle': 'set_over'}
    """
    names = {**OPERATION_KEYS, **LAYER_KEYS, **DIALS, **LATHE_PARTS}
    for keys in LATHE_KEYS.values():
        names |= keys
    inner = [table for value in data.values() for table in (value if _is_list(value) else [value])]
    used = {*data, *(key for table in inner for key in _keys(table))}
    return {today: old for old, today in names.items() if old in used and today not in used}


def key_now(key: str) -> str:
    """Return today's name of a key of an operation. Keys of inner tables, such as layers, are not translated.

    >>> key_now("holding"), key_now("divisions")
    ('workholding', 'divisions')
    """
    return OPERATION_KEYS.get(key, key)


def kind_now(kind: str) -> str:
    """Return today's name of a kind of operation.

    The old kind "cut" is returned unchanged, as it has several new names.

    >>> kind_now("bolts"), kind_now("turn")
    ('holes', 'turn')
    """
    return KINDS.get(kind, kind)


def clash_words(new: str) -> str:
    """Return the message about an old key in a table that also has today's key for the same value.

    `new`: today's key.

    >>> clash_words("carriage")
    'This is the old name of carriage, which is also given. Delete the old name and keep carriage.'
    """
    return f"This is the old name of {new}, which is also given. Delete the old name and keep {new}."


# The log.


def event_body(
    kind: str, logged: Mapping[str, Any], body_text: str, digest: Callable[[Any, Any], str]
) -> Mapping[str, Any]:
    """Return the body of a logged event with today's names. `body_text`: the text of the body in the log.

    `digest`: computes the digest of parameters and lathe. A body with the input of a plan keeps the logged digest under
    `logged_digest`. This digest shows whether the files have changed since the run began.
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
    """Return the input of a plan with today's names.

    The input is the kind of operation, its parameters, the lathe, and answers given at the counter. `digest`: computes
    the digest of parameters and lathe.
    """
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
    run_input = _planned_from(logged, digest)
    if run_input.get("dial") in list(DIALS):
        run_input["dial"] = DIALS[run_input["dial"]]
    return run_input


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


def _figures(data: Any) -> Any:
    """Return the figures of a plan, also those inside lists and tables, with today's names."""
    if isinstance(data, Mapping):
        named = {FIGURES.get(key, key): _figures(value) for key, value in data.items()}
        return {**named, "how": MOVES[named["how"]]} if named.get("how") in list(MOVES) else named
    return [_figures(value) for value in data] if _is_list(data) else data


# Operations.


def _operation_table(data: Mapping[str, Any], on_clash: OnClash | None = None) -> Mapping[str, Any]:
    """Return the table of an operation with today's names, except that the old kind "cut" stays.

    `on_clash`: called with the old and today's key if a table has both, and the old key is then dropped; None to keep
    it.
    """
    table = _renamed(data, OPERATION_KEYS, on_clash)
    changed = {key: DIALS[table[key]] for key in _DIAL_KEYS if table.get(key) in list(DIALS)}
    if table.get("kind") in list(KINDS):
        changed["kind"] = KINDS[table["kind"]]
    if table.get("kind") == _OLD_RINGS:
        return _pattern_table(_with(table, changed), on_clash)
    layers = _each(table.get("layer"), lambda layer: _renamed(layer, LAYER_KEYS, on_clash))
    return _with(table, changed | ({"layer": layers} if layers != table.get("layer") else {}))


def _pattern_table(rings: Mapping[str, Any], on_clash: OnClash | None) -> dict[str, Any]:
    """Return today's table of a pattern, made from an old table of rings.

    The cutter's keys move to a table of their own, and the depth moves to the layers. `on_clash`: called with the old
    and today's key if the table has both; None to report nothing.
    """
    pattern = {key: value for key, value in rings.items() if key not in _OF_RINGS}
    pattern.setdefault("layer_order", "written")
    cutter = {key: rings[key] for key in ("tip_angle", "tip_flat") if key in rings}
    if on_clash is not None:
        for old, new in _OF_RINGS.items():
            if old in rings and new in rings:
                on_clash(old, new)
    if cutter:
        pattern.setdefault("cutter", [{"name": _NAME_OF_CUTTER, **cutter}])
    if _OLD_RING in rings:
        layers = rings[_OLD_RING]
        are_deep = [ring for ring in (layers if _is_list(layers) else ()) if "depth" in _keys(ring)]

        def layer(ring: Mapping[str, Any]) -> dict[str, Any]:
            # If no ring has a depth, the reader must see `cut` and refuse it.
            cut = {"cut": rings["cut"]} if "cut" in rings and (ring in are_deep or not are_deep) else {}
            return _layer_table(ring, on_clash) | cut

        pattern.setdefault("layer", _each(layers, layer))
    return pattern


def _layer_table(ring: Mapping[str, Any], on_clash: OnClash | None) -> dict[str, Any]:
    layer = dict(_renamed(ring, LAYER_KEYS, on_clash))
    radius = layer.get("circle_radius")
    if isinstance(radius, str) and radius in MEETINGS:
        del layer["circle_radius"]
        if on_clash is not None and "meet" in layer:
            on_clash("cutter_radius", "meet")
        layer.setdefault("meet", MEETINGS[radius])
    return {"shape": "circles", **layer}


# Tables.


def _renamed(table: Mapping[str, Any], names: Names, on_clash: OnClash | None = None) -> Mapping[str, Any]:
    """Return a table with its old keys replaced by today's keys. If no key changes, return `table` itself.

    `names`: maps old keys to today's keys. If a table has both the old and today's key for one value, today's key
    counts. The old key is then reported to `on_clash` and dropped. If `on_clash` is None, the old key stays.
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


def _is_list(data: Any) -> bool:
    return isinstance(data, list | tuple)


def _each(data: Any, translated: Callable[[Mapping[str, Any]], Any]) -> Any:
    """Return a list with each table in it replaced by the result of `translated`.

    Anything else in `data` stays unchanged, because the reader of the file will refuse it.
    """
    return [translated(one) if isinstance(one, Mapping) else one for one in data] if _is_list(data) else data
