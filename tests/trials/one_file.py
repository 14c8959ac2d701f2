"""Cuts a job with the program in one file, without site packages and from another folder.

    python3 .ci/one_file/build.py halfnut.pyz
    python -m tests.trials.one_file halfnut.pyz

Passes are counted by key, the program is killed, and the next start must continue at the step that the log holds.
"""

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.trials.program import JOB, QUIET_S, Painted, begin, count_one, done_on, own_environment

PASSES = 2


def faults(archive: Path, data: Path) -> Iterator[str]:
    """Yield a sentence for every fault seen. `data`: the folder of the log, which does not exist yet."""
    command = [str(Path(sys.executable).resolve()), "-I", "-S", str(archive), "--data", str(data), str(JOB)]
    environment = own_environment(data)
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
    archive = Path(sys.argv[1]).resolve()
    with tempfile.TemporaryDirectory() as folder:
        seen = list(faults(archive, Path(folder) / "data"))
    print("\n".join(seen) or "one file: passes counted, and continued after a kill")
    return 1 if seen else 0


if __name__ == "__main__":
    sys.exit(main())
