"""Reads a lathe file, and reports all errors in the file in one message."""

from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from core.lathe.keys import dial
from core.lathe.keys.cutters import CUTTER, MOST_CUTTERS
from core.lathe.keys.entry import Part, ValueForm
from core.lathe.keys.table import PARTS
from core.lathe.lathe import Cutter, Lathe
from core.values.dials import Dial
from core.values.errors import FileError
from core.values.fields import Problem, Table
from core.values.files import may_exist, name_of, read_toml
from core.values.first_version import clash_words, lathe_table, written_names
from core.values.plain_text import clean, quoted
from core.values.quantities import Kind

EXAMPLE_FILE = Path(__file__).parents[1] / "data" / "example_lathe.toml"


def example_lathe() -> Lathe:
    """Return the example lathe. The program uses it until the user has described a lathe of their own."""
    return lathe_from(read_toml(EXAMPLE_FILE), EXAMPLE_FILE.name, example=True)


def find_lathe(lathe_path: Path | None, own_lathe: Path | None) -> Lathe:
    """Return the lathe in the file `lathe_path`, otherwise in the file `own_lathe`, otherwise the example lathe.

    A path is None if there is no such file. Raises FileError if the lathe file cannot be read or has errors.
    """
    if lathe_path is not None:
        return read_lathe(lathe_path)
    if own_lathe is not None and may_exist(own_lathe):
        return read_lathe(own_lathe)
    return example_lathe()


def read_lathe(path: Path) -> Lathe:
    """Return the lathe that a file describes. Raises a FileError that lists every error in the file."""
    return lathe_from(read_toml(path), name_of(path))


def read_tables(path: Path) -> Mapping[str, Any]:
    """Return the tables of a lathe file without checking them. Names from the first version become today's names.

    Raises FileError if the file cannot be read or is not TOML.
    """
    return lathe_table(read_toml(path))


def lathe_from(data: Mapping[str, Any], where: str, *, example: bool = False) -> Lathe:
    """Return the lathe that the tables of a lathe file describe.

    `where`: the name of the file in messages. `example`: True if this is the example lathe, False for a user's lathe.

    Raises a FileError that lists every error in the tables.
    """
    problems: list[Problem] = []
    lathe = _lathe(data, where, problems, example=example)
    if problems:
        raise FileError([str(problem) for problem in problems])
    return lathe


def problems_in(data: Mapping[str, Any]) -> tuple[Problem, ...]:
    """Return every problem in the tables of a lathe file, each with its key."""
    problems: list[Problem] = []
    _lathe(data, "", problems)
    return tuple(problems)


def _lathe(data: Mapping[str, Any], where: str, problems: list[Problem], *, example: bool = False) -> Lathe:
    tables = lathe_table(data, lambda old, new: problems.append(Problem(where, old, clash_words(new))))
    top = Table(tables, where, problems, written_names(data))
    fields: dict[str, Any] = {"name": ""}
    for part in PARTS:
        if part.section == dial.PART.section:
            fields[part.field] = _dials(top)
        elif part is CUTTER:
            fields[part.field] = read_cutters(top, "[[cutter]]")
        elif (table := top.table(part.section) if part.section else top) is not None:
            made = made_part(part, table)
            if made is not None:
                fields |= {part.field: made} if part.field else made
    top.refuse_unknown()
    return Lathe(**fields, example=example, data=tables, written=data)


def _dials(top: Table) -> dict[str, Dial]:
    dials: dict[str, Dial] = {}
    tables = top.table(dial.PART.section)
    for name in tables.data if tables else ():
        table = tables.table(name) if tables else None
        if table is None:
            continue
        table.where = f"{top.where}, [dial.{clean(table.written.get(name, name), 40)}]"
        if not name.replace("_", "").isalnum() or len(name) > 40:
            table.problem("", f"{quoted(name)} cannot be the name of a dial. Use at most 40 letters, digits and _.")
        one = made_part(dial.PART, table, name=name)
        if one is not None:
            dials[name] = one
    return dials


def read_cutters(table: Table, header: str) -> tuple[Cutter, ...]:
    """Return the valid cutters in a table's list `cutter`. Each error in a cutter is added to the table's problems.

    `header`: the TOML header with which each cutter begins, such as [[cutter]]. The messages show this header.
    """
    items = table.items(CUTTER.section, f"sections that begin with {header}", least=1, most=MOST_CUTTERS)
    cutters: list[Cutter] = []
    for number, item in enumerate(items, start=1):
        if not isinstance(item, Mapping):
            table.problem(
                CUTTER.section,
                f"{quoted(item)} is not a section. Write {header} on a line of its own, and the keys below this line.",
            )
            continue
        which = CUTTER.section if len(items) == 1 else f"{CUTTER.section} {number}"
        own = Table(item, f"{table.where}, {which}", table.problems, table.written)
        cutter = made_part(CUTTER, own)
        if cutter is None:
            continue
        if any(cutter.name == other.name for other in cutters):
            own.problem("name", f"There is already a cutter {quoted(cutter.name)}. Enter another name.")
        cutters.append(cutter)
    return tuple(cutters)


def made_part(part: Part, table: Table, **more: Any) -> Any:
    """Return the part of a lathe that a table describes; None if a required key is missing or wrong.

    `more`: fields of the part that do not come from the table.
    """
    read = {name: _read(table, name, key.form) for name, key in part.keys.items()}
    if part.check is not None:
        part.check(table, read)
    if part.section:
        table.refuse_unknown()
    entered = {name for name, value in read.items() if value is not None and value != ()}
    if any(key.form.required and name not in entered for name, key in part.keys.items()):
        return None
    fields = {key.field or name: key.form.field_value(read[name]) for name, key in part.keys.items() if name in entered}
    return part.make(**more, **fields)


def _read(table: Table, name: str, form: ValueForm) -> Any:
    """Return the value of a key, checked against `form`.

    If the key is missing or wrong, return () for a list, else None.
    """
    if form.kind is not None:
        return _read_quantities(table, name, form, form.kind)
    least, most = form.least or 0, form.most or 0
    match form.name:
        case "word":
            return table.word(name, form.words, required=form.required)
        case "wholes":
            return table.wholes(name, least=least, most=most)
        case "whole":
            return table.whole(name, required=form.required, least=least, most=most)
        case "number":
            return table.number(name, least=least, most=most)
        case "flag":
            return table.flag(name, True) if table.has(name) else None
        case "ratio":
            return _ratio(table, name)
        case "plates":
            return _plates(table, name, form)
    return table.text(name, required=form.required, longest=form.longest)


def _read_quantities(table: Table, name: str, form: ValueForm, kind: Kind) -> Any:
    match form.name:
        case "range":
            return table.quantities(name, kind, least=2, most=2)
        case "quantities":
            return table.quantities(name, kind, most=form.longest)
    return table.quantity(name, kind, required=form.required, above=form.above, least=form.least, most=form.most)


def _plates(table: Table, key: str, form: ValueForm) -> tuple[tuple[int, ...], ...]:
    plates = []
    for plate in table.items(key, "a list of plates, each a list of its hole circles", least=1, most=form.longest):
        if not isinstance(plate, list) or not plate:
            table.problem(
                key, f"{quoted(plate)} is not a plate. Enter a list of its hole circles, such as [[15, 16, 17]]."
            )
            break
        plates.append(table.checked_wholes(key, plate, least=form.least or 0, most=form.most or 0))
    return tuple(plates)


def _ratio(table: Table, key: str) -> Fraction | None:
    """Return a ratio of whole numbers, such as "1/2"; None if the key is missing or wrong.

    A text that is not such a ratio is recorded as a problem.
    """
    text = table.text(key, longest=20)
    if text is None:
        return None
    above, _, below = text.partition("/")
    if above.strip().isdecimal() and (below or "1").strip().isdecimal():
        numbers = int(above), int(below or "1")
        if all(0 < number <= 10_000 for number in numbers):
            return Fraction(*numbers)
    table.problem(key, f'{quoted(text)} is not a ratio of whole numbers. Enter a ratio such as "1/2".')
    return None
