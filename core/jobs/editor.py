"""Edits the text of a job file: adds, changes, moves and removes operations. All other text stays byte for byte.

The new text is checked before it replaces the file: it must have no errors, and it must contain exactly the wanted
values. If the text cannot be edited line by line, the change is refused with a message.
"""

import codecs
import re
import tomllib
import unicodedata
from collections.abc import Callable, Mapping
from itertools import pairwise, takewhile
from pathlib import Path
from typing import Any

from core.jobs.job import JOB_FORMAT, Job, named_lathe, parse_job
from core.operations.registry import Parameters
from core.values.errors import FileError
from core.values.files import failure, may_exist, name_of, parse_toml, read_text, table_text, toml_key, write_text
from core.values.first_version import key_now
from core.values.plain_text import as_name, quoted

JOB_SUFFIX = ".toml"

_MOST_COPIES = 100
_BYTE_ORDER_MARK = "\ufeff"
_HEADER = re.compile(r"\s*\[\[\s*operation\s*\]\]\s*(?:#.*)?$")
_SUB_HEADER = re.compile(r"\s*\[")
_LINE = re.compile(r"[^\n]*\n|[^\n]+")
_EMPTY_OR_COMMENT = re.compile(r"\s*(?:#|$)")
_KEY_LINE = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=")

Block = list[str]
"""The text lines of one operation, with the comments right above its header."""
_Edit = Callable[[list[Block], list[dict[str, Any]], int], None]


def append_operation(
    path: Path, parameters: Parameters, lathe_path: Path | None = None, own_lathe: Path | None = None
) -> Job:
    """Append an operation's TOML table to a job file, and return the changed job.

    The file is read again first, so that changes made in the meantime are kept. Raises FileError with every error in
    the old or the new text, and then writes nothing. `lathe_path`: a lathe file to use in place of the job's; None to
    keep the job's. `own_lathe`: the user's lathe file, used if the job names none; None for the example lathe.
    """
    before = read_text(path)
    _check_usable(before, path, lathe_path, own_lathe)
    end = _line_end(before)
    gap = end if before.endswith("\n") else 2 * end
    after = before + gap + operation_text(parameters).replace("\n", end)
    job = parse_job(after, path, lathe_path, own_lathe)
    write_text(path, _byte_order_mark(path) + after)
    return job


def new_job(
    path: Path,
    parameters: Parameters,
    *,
    title: str,
    lathe: Path | None = None,
    material: str | None = None,
    own_lathe: Path | None = None,
) -> Job:
    """Write a job file with one operation, and return the job.

    `lathe`: the lathe file that the job names; None to name none. A lathe file from another folder is copied into the
    job's folder, so that the user can move both files to another computer. `material`: the work's material; None if it
    is not known. `own_lathe`: the user's lathe file, used if the job names none; None for the example lathe.

    Raises FileError if `path` already exists, and with every error in the new text.
    """
    _check_unused(path)
    head: dict[str, object] = {"format": JOB_FORMAT, "title": title}
    copied = None
    if lathe is not None:
        head["lathe"], copied = _beside(lathe, path)
    if material:
        head["material"] = material
    text = f"{table_text(head)}\n{operation_text(parameters)}"
    job = parse_job(text, path, None if copied is None else lathe, own_lathe)
    if copied is not None:
        write_text(path.parent / str(head["lathe"]), copied)
    write_text(path, text)
    return job


def change_operation(
    path: Path, name: str, parameters: Parameters, lathe_path: Path | None = None, own_lathe: Path | None = None
) -> Job:
    """Change the parameters of the operation called `name` in a job file, and return the changed job.

    Unchanged values keep their lines in the file, and changed values keep the comments after them. Keys that were
    renamed since the first version of the program get their present names. Raises FileError with every error, and then
    writes nothing. `lathe_path`: a lathe file to use in place of the job's; None to keep the job's. `own_lathe`: the
    user's lathe file, used if the job names none; None for the example lathe.
    """

    def edit(blocks: list[Block], tables: list[dict[str, Any]], index: int) -> None:
        blocks[index] = _changed(blocks[index], tables[index], parameters)
        tables[index] = dict(parameters)

    return _edited(path, name, edit, lathe_path, own_lathe)


def remove_operation(path: Path, name: str, lathe_path: Path | None = None, own_lathe: Path | None = None) -> Job:
    """Remove the operation called `name` from a job file, and return the changed job. Its runs stay in the log.

    Raises FileError if the file has errors or cannot be written. `lathe_path`: a lathe file to use in place of the
    job's; None to keep the job's. `own_lathe`: the user's lathe file, used if the job names none; None for the example
    lathe.
    """

    def edit(blocks: list[Block], tables: list[dict[str, Any]], index: int) -> None:
        if len(blocks) == 1:
            raise FileError(
                [
                    f"{name_of(path)}: {quoted(name)} "
                    "is the only operation, and a job needs at least one. Add another operation before you "
                    "delete this one."
                ]
            )
        del blocks[index], tables[index]

    return _edited(path, name, edit, lathe_path, own_lathe)


def move_operation(
    path: Path, name: str, places: int, lathe_path: Path | None = None, own_lathe: Path | None = None
) -> Job:
    """Move the operation called `name` down by `places`, or up if `places` is negative, and return the changed job.

    The operation stops at the first or the last place. Raises FileError if the file has errors or cannot be written.
    `lathe_path`: a lathe file to use in place of the job's; None to keep the job's. `own_lathe`: the user's lathe file,
    used if the job names none; None for the example lathe.
    """

    def edit(blocks: list[Block], tables: list[dict[str, Any]], index: int) -> None:
        target = min(max(index + places, 0), len(blocks) - 1)
        if target == index:
            return
        blocks.insert(target, blocks.pop(index))
        for place in range(max(target - 1, 0), min(target + 1, len(blocks) - 1)):
            blocks[place] = _with_empty_line(blocks[place])
        tables.insert(target, tables.pop(index))

    return _edited(path, name, edit, lathe_path, own_lathe)


def change_material(
    path: Path, material: str | None, lathe_path: Path | None = None, own_lathe: Path | None = None
) -> Job:
    """Change the material in a job file, and return the changed job. None deletes the material from the file.

    Raises FileError if the file has errors or cannot be written. `lathe_path`: a lathe file to use in place of the
    job's; None to keep the job's. `own_lathe`: the user's lathe file, used if the job names none; None for the example
    lathe.
    """
    before = read_text(path)
    _check_usable(before, path, lathe_path, own_lathe)
    content = parse_toml(before, path)
    old = content.pop("material", None)
    if material is not None:
        content["material"] = material
    head, blocks = _blocks(before)
    end = _line_end(before)
    changed = _with_text(_ended(head, end), "material", old, material, end)
    after = "".join(line for block in (changed, *blocks) for line in block)
    refusal = (
        f"{name_of(path)}: The material takes up more than one line. Put it on one line in a text "
        "editor. Nothing was written."
    )
    return _written(path, after, content, refusal, lathe_path, own_lathe)


def with_title(text: str, title: str, path: Path) -> str:
    """Return the text of a job file with another title; all other text stays. `path`: the file that errors name.

    Raises FileError if the text is not valid TOML, or if its present title takes up more than one line.
    """
    content = parse_toml(text, path)
    head, blocks = _blocks(text)
    end = _line_end(text)
    changed = _with_text(_ended(head, end), "title", content.get("title"), title, end)
    after = "".join(line for block in (changed, *blocks) for line in block)
    if _read(after) != {**content, "title": title}:
        raise FileError(
            [f"{name_of(path)}: The title takes up more than one line. Put it on one line in a text editor."]
        )
    return after


def _with_text(head: Block, key: str, old: Any, new: str | None, end: str) -> Block:
    """Return the lines before the first operation with a new value for a key.

    `head`: the present lines. `old`: the key's present value; None if the key is not in the file. `new`: the new value;
    None to delete the key. A key that is not in the file gets a line below the title. `end`: the line end of the file.
    """
    places = {own: place for place, line in enumerate(head) if (own := _key_of(line)) and _read(line)}
    place = places.get(key)
    if old is None:
        below_title = places.get("title", -1) + 1
        added = _lines(table_text({key: new}), end) if new else []
        return [*head[:below_title], *added, *head[below_title:]]
    if place is None:
        return head
    changed = [] if new is None else [_with_value(head[place], {key: old}, {key: new}, end)]
    return [*head[:place], *changed, *head[place + 1 :]]


def _key_of(line: str) -> str:
    match = _KEY_LINE.match(line)
    return match[1] if match else ""


def _edited(path: Path, name: str, edit: _Edit, lathe_path: Path | None, own_lathe: Path | None) -> Job:
    before = read_text(path)
    _check_usable(before, path, lathe_path, own_lathe)
    content = parse_toml(before, path)
    head, blocks = _blocks(before)
    names = [as_name(table["name"]) for table in content["operation"]]
    if name not in names:
        raise FileError([f"{name_of(path)}: The job no longer has an operation {quoted(name)}. Open the job again."])
    if len(blocks) != len(names):
        raise FileError([_only_by_hand(path)])
    edit(blocks, content["operation"], names.index(name))
    after = "".join(line for block in (head, *blocks) for line in _ended(block, _line_end(before)))
    return _written(path, after, content, _only_by_hand(path), lathe_path, own_lathe)


def _written(
    path: Path, after: str, content: Mapping[str, Any], refusal: str, lathe_path: Path | None, own_lathe: Path | None
) -> Job:
    """Save `after`, the new text of a job file, and return the job.

    If the text does not contain exactly `content`, nothing is written and FileError is raised with the message
    `refusal`. `lathe_path`: a lathe file to use in place of the job's; None to keep the job's. `own_lathe`: the user's
    lathe file, used if the job names none; None for the example lathe.
    """
    if _read(after) != content:
        raise FileError([refusal])
    job = parse_job(after, path, lathe_path, own_lathe)
    write_text(path, _byte_order_mark(path) + after)
    return job


def _only_by_hand(path: Path) -> str:
    return (
        f"{name_of(path)}: "
        "An operation does not begin with [[operation]] on a line of its own. Add this line in a text editor. "
        "Nothing was written."
    )


def _blocks(text: str) -> tuple[Block, list[Block]]:
    """Return the lines before the first operation, and the lines of each operation.

    Comments directly above an operation's header belong to that operation.
    """
    # splitlines would also split at characters that TOML allows inside a text, such as U+2028.
    lines = _LINE.findall(text)
    starts = []
    for number, line in enumerate(lines):
        if _HEADER.match(line.rstrip("\r\n")):
            start = number
            while start > 0 and lines[start - 1].lstrip().startswith("#"):
                start -= 1
            starts.append(start)
    ends = [*starts, len(lines)]
    return lines[: ends[0]], [lines[start:end] for start, end in pairwise(ends)]


def _ended(block: Block, end: str) -> Block:
    """Return a block of lines with `end` added to its last line, if that line lacks a line end."""
    return [*block[:-1], block[-1] + end] if block and not block[-1].endswith("\n") else block


def _with_empty_line(block: Block) -> Block:
    end = _line_end("".join(block))
    block = _ended(block, end)
    return block if not block[-1].strip() else [*block, end]


def _changed(block: Block, old: Mapping[str, Any], new: Mapping[str, Any]) -> Block:
    """Return the text lines of an operation, changed so that they contain the TOML table `new` instead of `old`.

    Each value is changed in its own line. If this is not possible, for example because a value takes up several lines,
    the whole operation is written again.
    """
    end = _line_end("".join(block))
    lines = _line_by_line(block, old, new, end)
    if _read("".join(lines)) == {"operation": [new]}:
        return lines
    return [*block[: _header_at(block)], *_lines(operation_text(new), end), *_trailing_comments(block)]


def _line_by_line(block: Block, old: Mapping[str, Any], new: Mapping[str, Any], end: str) -> Block:
    first = _header_at(block) + 1
    last = next((number for number in range(first, len(block)) if _SUB_HEADER.match(block[number])), len(block))
    kept: Block = []
    seen: set[str] = set()
    after_last_value = 0
    for line in block[first:last]:
        written = _key_of(line)
        key = key_now(written)
        if written not in old:
            kept.append(line)
            continue
        seen.add(key)
        same = key == written and key in new and new[key] == old[key]
        if not same and _read(line) != {written: old[written]}:
            # A value of several lines is found; some of these lines could look like comments.
            return block
        # TOML tables written on the key's own line move below the other keys when they change.
        if same or (key in new and not _is_tables(new[key])):
            kept.append(line if same else _with_value(line, {written: old[written]}, {key: new[key]}, end))
            after_last_value = len(kept)
    added = {key: value for key, value in new.items() if key not in seen and not _is_tables(value)}
    kept[after_last_value:after_last_value] = _lines(table_text(added), end)
    return [*block[:first], *kept, *_sub_tables(block[last:], old, new, end)]


def _sub_tables(lines: Block, old: Mapping[str, Any], new: Mapping[str, Any], end: str) -> Block:
    """Return the text lines of the TOML tables inside an operation, with the content of `new` instead of `old`.

    If any of these tables has changed, all of them are written again. `end`: the line end of the file.
    """
    before, after = ({key: value for key, value in table.items() if _is_tables(value)} for table in (old, new))
    return lines if before == after else [*_lines(_sub_tables_text(after), end), *_trailing_comments(lines)]


def _lines(text: str, end: str) -> Block:
    return _LINE.findall(text.replace("\n", end))


def _trailing_comments(lines: Block) -> Block:
    """Return the empty lines and comments that follow the last value in the lines."""
    start = len(lines) - len(list(takewhile(_EMPTY_OR_COMMENT.match, reversed(lines))))
    # The last line of a value with several lines may look like a comment.
    while start < len(lines) and _read("".join(lines[:start])) is None:
        start += 1
    return lines[start:]


def _with_value(line: str, old: Mapping[str, Any], new: Mapping[str, Any], end: str) -> str:
    """Return the line of a key with a new value. A comment after the old value stays.

    `old` and `new`: the key with its old and with its new value. `end`: the line end of the file.
    """
    changed = line[: len(line) - len(line.lstrip())] + table_text(new)
    for place, character in enumerate(line):
        if character == "#" and _read(line[:place]) == old:
            return f"{changed.rstrip()}  {line[place:]}"
    return changed.replace("\n", end)


def _read(text: str) -> dict[str, Any] | None:
    """Return the TOML content of a part of a file; None if this part alone is not valid TOML."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _header_at(block: Block) -> int:
    return next(number for number, line in enumerate(block) if _HEADER.match(line.rstrip("\r\n")))


def lathe_file(job: Job, lathe_path: Path | None = None) -> Path | None:
    """Return the path of a job's lathe file; None if neither `lathe_path` nor the job names a file.

    If both do, `lathe_path` is returned. Raises FileError if the job file cannot be read.
    """
    name = parse_toml(job.text, job.path).get("lathe")
    if lathe_path is not None or not isinstance(name, str):
        return lathe_path
    return named_lathe(job.path, name)


def file_name(title: str, nameless: str = "job") -> str:
    """Return a file name for a job, made from its title, with lower-case letters, digits and underscores.

    `nameless`: the name used if the title has no character that is usable in a file name.

    >>> file_name("Nose adaptor, 2nd piece")
    'nose_adaptor_2nd_piece.toml'
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return f"{re.sub(r'[^a-z0-9]+', '_', plain).strip('_')[:60] or nameless}{JOB_SUFFIX}"


def operation_text(parameters: Parameters) -> str:
    """Return an operation as text for a job file. TOML tables inside the operation, such as layers, come last.

    >>> print(operation_text({"kind": "by_hand", "name": "Chamfer"}), end="")
    [[operation]]
    kind = "by_hand"
    name = "Chamfer"
    """
    sub_tables = {key: value for key, value in parameters.items() if _is_tables(value)}
    own = {key: value for key, value in parameters.items() if key not in sub_tables}
    return f"[[operation]]\n{table_text(own)}{_sub_tables_text(sub_tables)}"


def _sub_tables_text(sub_tables: Mapping[str, Any]) -> str:
    """Return the TOML tables inside an operation as text, each table under its own header.

    >>> print(_sub_tables_text({"layer": [{"count": 6}]}), end="")
      [[operation.layer]]
    count = 6
    """
    return "".join(
        f"  [[operation.{toml_key(key)}]]\n{table_text(table)}"
        for key, tables in sub_tables.items()
        for table in tables
    )


def _is_tables(value: object) -> bool:
    """Return True if a value is a list of TOML tables, which is written below the other keys."""
    return isinstance(value, list) and bool(value) and all(isinstance(item, Mapping) for item in value)


def _check_usable(text: str, path: Path, lathe_path: Path | None, own_lathe: Path | None) -> None:
    """Raise FileError if the text of a job file has errors, because a file with errors must not be edited.

    `path`: the job file. `lathe_path`: a lathe file to use in place of the job's; None to keep the job's. `own_lathe`:
    the user's lathe file, used if the job names none; None for the example lathe.
    """
    try:
        parse_job(text, path, lathe_path, own_lathe)
    except FileError as error:
        first = f"{name_of(path)}: Nothing was written, because the file has errors. Correct them first."
        raise FileError([first, *error.every]) from None


def _check_unused(path: Path) -> None:
    """Raise FileError if a file already has this path. A broken symbolic link counts as a file."""
    try:
        used = path.exists() or path.is_symlink()
        what = "a folder" if path.is_dir() else "a file"
    except OSError as error:
        raise failure(path, "This name cannot be used", error) from None
    if used:
        raise FileError([f"{name_of(path)}: There is already {what} with this name. Enter another name."])


def _line_end(text: str) -> str:
    """Return the line end that a text uses: CR LF or LF."""
    return "\r\n" if "\r\n" in text else "\n"


def _byte_order_mark(path: Path) -> str:
    """Return the byte order mark at the start of a file; "" if there is none. Some editors write such a mark."""
    try:
        with path.open("rb") as file:
            return _BYTE_ORDER_MARK if file.read(3) == codecs.BOM_UTF8 else ""
    except OSError as error:
        raise failure(path, "The file cannot be read", error) from None


def _beside(lathe: Path, job: Path) -> tuple[str, str | None]:
    """Return the name under which a job file can refer to a lathe file, and the text of a copy to write.

    A lathe file in the job's folder, or in a folder below it, is named by its relative path. Any other lathe file is
    copied into the job's folder. The text is None if no copy is needed. Raises FileError if the lathe file cannot be
    read.
    """
    lathe, folder = lathe.resolve(), job.parent.resolve()
    if lathe.is_relative_to(folder):
        return str(lathe.relative_to(folder)), None
    text = read_text(lathe)
    names = (lathe.name, *(f"{lathe.stem}_{number}{lathe.suffix}" for number in range(2, _MOST_COPIES)))
    for name in names:
        if not may_exist(folder / name):
            return name, text
        if read_text(folder / name) == text:
            return name, None
    raise FileError(
        [
            f"{name_of(folder)}: This folder has too many lathe files with names like {quoted(lathe.name)}. "
            "Delete some of them."
        ]
    )
