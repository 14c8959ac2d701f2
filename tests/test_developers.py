"""Every file and every name in DEVELOPERS.md exists."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
_PATH = re.compile(r"`((?:core|tui|tests|sample_jobs)/[\w/.]*)`((?:(?:,| and)? `\w+`)*)")
"""Matches a file or a folder, and the names after it."""


def test_every_file_named_in_developers_md_exists() -> None:
    """A path that ends with a slash is a folder."""
    paths = {match[1] for match in _PATH.finditer(TEXT)}
    assert len(paths) > 40
    missing = [path for path in sorted(paths) if not (ROOT / path).exists()]
    assert missing == []


def test_every_name_given_with_a_file_in_developers_md_is_defined_in_that_file() -> None:
    """A name is a function, a class, a method or a constant."""
    pairs = [(match[1], name) for match in _PATH.finditer(TEXT) for name in re.findall(r"`(\w+)`", match[2])]
    assert len(pairs) > 25
    missing = [
        (path, name)
        for path, name in pairs
        if path.endswith(".py")
        and not re.search(rf"(?:def|class) {name}\b|^ *{name}\b.*=", (ROOT / path).read_text(encoding="utf-8"), re.M)
    ]
    assert missing == []


def test_every_name_given_without_a_file_in_developers_md_is_defined_somewhere() -> None:
    """The name is defined in the code, or occurs in a file as a word."""
    names = set(re.findall(r"`([a-z]+(?:_[a-z]+)+|_?[A-Z]+(?:_[A-Z]+)+|(?:[A-Z][a-z]+){2,})`", TEXT))
    assert len(names) > 40
    code = "\n".join(
        path.read_text(encoding="utf-8") for room in ("core", "tui", "tests") for path in (ROOT / room).rglob("*.py")
    )
    files = {path.stem for room in ("core", "tui", "tests") for path in (ROOT / room).rglob("*")}
    defined = set(re.findall(r"(?:def|class) (\w+)|^ *(\w+)\b[^(\n]*=", code, re.M))
    known = {name for pair in defined for name in pair} | files
    assert sorted(names - known - {"cached_property"}) == []
