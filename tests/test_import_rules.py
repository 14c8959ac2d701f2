"""Core imports no screen library, and no file is too long."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
CORE = sorted(path for path in (ROOT / "core").rglob("*.py"))
CODE = [*CORE, *sorted((ROOT / "tui").rglob("*.py"))]
PROBE = """
import importlib, sys
for name in sys.argv[1:]:
    importlib.import_module(name)
    found = sorted({"textual", "rich", "pint", "tui"} & set(sys.modules))
    if found:
        sys.exit(f"{name} brings {', '.join(found)} along")
"""


def test_the_core_package_imports_neither_textual_nor_pint() -> None:
    """A new interpreter imports every module of core in turn."""
    names = [".".join(path.relative_to(ROOT).with_suffix("").parts) for path in CORE if path.stem != "__init__"]
    done = subprocess.run([sys.executable, "-c", PROBE, *names], cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("words", [["--version"], ["--help"], ["card", "sample_jobs/sundial_arbor.toml"]])
def test_commands_that_only_print_import_neither_textual_nor_pint(words: list[str]) -> None:
    """Without these imports the commands start faster."""
    code = (
        "import sys; from tui.__main__ import main; status = main(sys.argv[1:]); "
        "sys.exit(status or sorted({'textual', 'pint'} & set(sys.modules)) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code, *words], cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


def test_no_python_file_of_the_program_has_more_than_600_lines() -> None:
    """A longer file usually contains more than one subject."""
    assert [path.name for path in CODE if len(path.read_text().splitlines()) > 600] == []
