"""The saved golden cards: which job files have one, where it is, and how it differs from the present card."""

from collections.abc import Mapping, Sequence
from difflib import unified_diff
from pathlib import Path

from tests.golden.card_lines import golden_lines

HERE = Path(__file__).parent
SAMPLES, JOBS, CARDS = HERE.parents[1] / "sample_jobs", HERE / "jobs", HERE / "cards"
COMMAND = "python -m tests.golden"
ENDING = ".txt"


def sources() -> Mapping[str, Path]:
    """Return every job file by its name. Lathe files ("..._lathe.toml") have no card and are left out."""
    files = [*sorted(SAMPLES.glob("*.toml")), *sorted(JOBS.glob("*.toml"))]
    found: dict[str, Path] = {}
    for path in files:
        if path.stem in found:
            raise ValueError(f"{path} and {found[path.stem]} have the same name. Rename one of them.")
        if not path.stem.endswith("_lathe"):
            found[path.stem] = path
    return found


def kept_names() -> set[str]:
    """Return the names of the saved cards."""
    return {path.stem for path in CARDS.glob(f"*{ENDING}")}


def kept_lines(name: str) -> list[str]:
    """Return the rows of a saved card; [] if there is none."""
    path = _kept(name)
    return path.read_text(encoding="utf-8").splitlines() if path.exists() else []


def keep(name: str, lines: Sequence[str]) -> None:
    """Save the rows of a card under the name of its job."""
    CARDS.mkdir(exist_ok=True)
    _kept(name).write_text("".join(f"{line}\n" for line in lines), encoding="utf-8", newline="\n")


def drop(name: str) -> None:
    """Delete the saved card of a job that no longer exists."""
    _kept(name).unlink()


def _kept(name: str) -> Path:
    return CARDS / f"{name}{ENDING}"


def differences(kept: Sequence[str], now: Sequence[str]) -> list[str]:
    """Return the rows that differ, with "-" before saved rows and "+" before new rows."""
    changed = unified_diff(kept, now, n=0, lineterm="")
    # The first two lines name the files compared.
    return [line for line in list(changed)[2:] if not line.startswith("@@")]


def changes(name: str, path: Path) -> list[str]:
    """Return the rows that differ between the saved and the present card of a job."""
    return differences(kept_lines(name), golden_lines(path))
