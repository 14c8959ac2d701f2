"""Every file and name that DEVELOPERS.md mentions exists."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
_PATH = re.compile(r"`((?:core|tui|tests|sample_jobs)/[\w/.]*)`((?:(?:,| and)? `\w+`)*)")
"""Matches a file or a folder, and the names in it that follow."""


def test_every_file_that_the_guide_names_exists() -> None:
    """Folders end in a slash."""
    paths = {match[1] for match in _PATH.finditer(TEXT)}
    assert len(paths) > 40
    missing = [path for path in sorted(paths) if not (ROOT / path).exists()]
    assert missing == []


def test_every_name_that_the_guide_gives_with_its_file_is_defined_there() -> None:
    """It is a function, a class, a method or a constant."""
    pairs = [(match[1], name) for match in _PATH.finditer(TEXT) for name in re.findall(r"`(\w+)`", match[2])]
    assert len(pairs) > 25
    missing = [
        (path, name)
        for path, name in pairs
        if path.endswith(".py")
        and not re.search(rf"(?:def|class) {name}\b|^ *{name}\b.*=", (ROOT / path).read_text(encoding="utf-8"), re.M)
    ]
    assert missing == []


def test_every_plain_name_in_the_guide_is_defined_somewhere() -> None:
    """A name without its file is a function, a class, a constant, a field or a key of the code, or a word of a file."""
    names = set(re.findall(r"`([a-z]+(?:_[a-z]+)+|_?[A-Z]+(?:_[A-Z]+)+|(?:[A-Z][a-z]+){2,})`", TEXT))
    assert len(names) > 40
    code = "\n".join(
        path.read_text(encoding="utf-8") for room in ("core", "tui", "tests") for path in (ROOT / room).rglob("*.py")
    )
    files = {path.stem for room in ("core", "tui", "tests") for path in (ROOT / room).rglob("*")}
    defined = set(re.findall(r"(?:def|class) (\w+)|^ *(\w+)\b[^(\n]*=", code, re.M))
    known = {name for pair in defined for name in pair} | files
    assert sorted(names - known - {"cached_property"}) == []
