"""Words that no user may see. After each word, a comment gives the word to use instead.

The tests read the strings of core and tui that may be shown, the recorded pages and screens, and README.md.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
FIRST_VERSION = ROOT / "core" / "values" / "first_version.py"
"""The file with key names of the first version, which old files and logs may have. It is left out."""

NEVER = {
    "saddle": r"saddles?",  # carriage
    "play": r"play",  # backlash
    "packing": r"packings?",  # shims, stack
    "set-over": r"set[- ]over",  # compound angle; set-over is the tailstock's
    "chasing dial": r"chasing dials?",  # thread dial
    "stand-in": r"stand-ins?",  # example lathe
    "cutter head": r"cutter heads?",  # boring head
    "FIM": r"FIM|full indicator movement",  # total indicator reading
    "gone on": r"(?:go|goes|going|gone|went) on with|gone on",  # continued
    "anew": r"anew",  # again
    "afresh": r"afresh",  # again
    "reckon": r"reckon\w*",  # work out, calculator
    "mend": r"mend(?:s|ed|ing)?",  # correct, repair
    "parted by": r"parted by",  # separated by
}
_NEVER = re.compile(
    "|".join(rf"(?P<w{number}>\b(?:{pattern})\b)" for number, pattern in enumerate(NEVER.values())), re.IGNORECASE
)
_KEY = re.compile(r"[a-z0-9]+(?:[_.][a-z0-9]+)+|[#.][\w-]+(?: [#.>:\w-]+)*", re.ASCII)
"""Matches a key of a file, a log or a style sheet."""
_LONGEST = 70


def words_in(text: str) -> Iterator[str]:
    """Yield each forbidden word in a text."""
    for match in _NEVER.finditer(" ".join(text.split())):
        word = list(NEVER)[int((match.lastgroup or "w0")[1:])]
        if word != "set-over" or "tailstock" not in text.casefold():
            yield word


def shown_strings(source: str) -> Iterator[str]:
    """Yield the strings of a module that a user may see.

    Docstrings, keys, style sheets and regular expressions are left out.
    """
    hidden: set[ast.AST] = set()
    for node in ast.walk(ast.parse(source)):
        if node in hidden:
            hidden.update(ast.iter_child_nodes(node))
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            hidden.add(node.value)
        elif _is_style_sheet(node) or _is_pattern(node):
            hidden.update(ast.iter_child_nodes(node))
        elif isinstance(node, ast.Call):
            hidden.update(_ids_in(node))
        elif isinstance(node, ast.JoinedStr):
            hidden.update(part for part in node.values if isinstance(part, ast.Constant))
            yield "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and not _KEY.fullmatch(node.value):
            yield node.value


def _is_style_sheet(node: ast.AST) -> bool:
    targets = node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
    return any(isinstance(target, ast.Name) and target.id.endswith("CSS") for target in targets)


def _is_pattern(node: ast.AST) -> bool:
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "compile"


def _ids_in(call: ast.Call) -> Iterator[ast.AST]:
    """Yield the keys, actions and ids in a call that makes a key binding or a widget."""
    if isinstance(call.func, ast.Name) and call.func.id == "Binding":
        yield from call.args[:2]
    yield from (keyword.value for keyword in call.keywords if keyword.arg in {"id", "classes"})


def in_code() -> Iterator[str]:
    """Yield, for each forbidden word in the code, the file, the word and the string."""
    for path in sorted([*(ROOT / "core").rglob("*.py"), *(ROOT / "tui").rglob("*.py")]):
        if path == FIRST_VERSION:
            continue
        for text in shown_strings(path.read_text(encoding="utf-8")):
            for word in words_in(text):
                yield f"{path.relative_to(ROOT).as_posix()}: {word}: {' '.join(text.split())[:_LONGEST]}".rstrip()


def on_pages() -> Iterator[str]:
    """Yield, for each forbidden word on recorded pages and screens, in samples or README.md, the file and the word."""
    for pattern in (
        "tests/core/wording/*.txt",
        "tests/tui/pictures/*.txt",
        "core/data/*.toml",
        "sample_jobs/*",
        "README.md",
    ):
        for path in sorted(ROOT.glob(pattern)):
            for word in words_in(path.read_text(encoding="utf-8")):
                yield f"{path.relative_to(ROOT).as_posix()}: {word}"


def test_no_string_or_recorded_page_contains_a_forbidden_word() -> None:
    assert sorted({*in_code(), *on_pages()}) == []


def test_only_strings_that_a_user_may_see_are_searched_for_forbidden_words() -> None:
    """Labels and f-strings count. Docstrings, keys, style sheets and regular expressions do not."""
    source = '''
"""Saddle."""
import re
LABELS = {"saddle_key": "Packing", "b": f"{1} mend {2}"}
CSS = "#reckoner { width: 1; }"
BINDINGS = [Binding("x", "reckon", "Packing", id="mend")]
_PATTERN = re.compile("anew")
def f():
    """Reckons."""
    return "the display; the tailstock's set-over; a cross-slide amended"
'''
    assert [word for text in shown_strings(source) for word in words_in(text)] == [
        "packing",
        "mend",
        "packing",
    ]
    assert list(words_in("the play\nis parted\nby 3")) == ["play", "parted by"]
    assert list(words_in("off square (set-over)")) == ["set-over"]
