"""Builds the one file that holds the program, and cuts a job with it, without site packages and from another folder.

    python -m tests.trials.one_file

Two builds must be equal byte for byte. The cards of all samples must be those of the source folder. Passes are
counted by key, the program is killed, and the next start must continue at the step that the log holds.
"""

import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from tests.trials.program import JOB, QUIET_S, ROOT, Painted, begin, count_one, done_on, own_environment

BUILD = ROOT / ".ci" / "one_file" / "build.py"
PASSES = 2


def faults(folder: Path) -> Iterator[str]:
    """Yield a sentence for every fault seen. The files are built in `folder`."""
    stick = folder / "stick"
    stick.mkdir()
    first, second = stick / "halfnut.pyz", folder / "again.pyz"
    for target in (first, second):
        subprocess.run([sys.executable, str(BUILD), str(target)], check=True)
    if first.read_bytes() != second.read_bytes():
        yield "two builds differ"
    data = folder / "data"
    environment = own_environment(data)
    command = [str(Path(sys.executable).resolve()), "-I", "-S", str(first)]
    for sample in sorted((ROOT / "sample_jobs").glob("*.toml")):
        if not sample.stem.endswith("_lathe"):
            from_source = _printed([sys.executable, "-m", "tui"], sample, environment)
            if _printed(command, sample, environment) != from_source:
                yield f"{sample.name}: the card differs from the source folder's"
    yield from _kill_and_continue([*command, "--data", str(data), str(JOB)], environment)


def _printed(command: Sequence[str], sample: Path, environment: dict[str, str]) -> str:
    ended = subprocess.run([*command, "card", str(sample)], cwd=ROOT, env=environment, capture_output=True, text=True)
    return f"{ended.returncode}\n{ended.stdout}{ended.stderr}"


def _kill_and_continue(command: Sequence[str], environment: dict[str, str]) -> Iterator[str]:
    program = Painted(command, environment=environment)
    begin(program, resumed=False)
    for done in range(1, PASSES + 1):
        count_one(program, done)
    program.kill()
    program = Painted(command, environment=environment)
    begin(program, resumed=True)
    if done_on(program.settle(QUIET_S)) != PASSES:
        yield f"the next start continues elsewhere:\n{program.shown}"
    program.press("\x11")
    if (status := program.end()) != 0:
        yield f"exit status {status}"


def main() -> int:
    """Run the trial in a temporary folder. Return the exit status."""
    with tempfile.TemporaryDirectory() as folder:
        seen = list(faults(Path(folder)))
    print("\n".join(seen) or "one file: two equal builds, the same cards, passes counted and continued after a kill")
    return 1 if seen else 0


if __name__ == "__main__":
    sys.exit(main())
