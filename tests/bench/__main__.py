"""Prints the measured ratios: `python -m tests.bench [--json]`. With `--slow-core`, a quarter of a core is used."""

import json
import sys
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from tests.bench import counting, logs, planning, shading, slow_core, starting
from tests.bench.measuring import BenchRow, compiled_environment

GROUPS = (planning, shading, logs, starting, counting)


def measured(folder: Path, environment: Mapping[str, str]) -> Iterator[BenchRow]:
    """Yield the measured rows of all subjects."""
    for group in GROUPS:
        yield from group.rows(folder, environment)


def main() -> int:
    """Print each measured row as text, or all rows as JSON. Return the exit status 0."""
    as_json = "--json" in sys.argv[1:]
    chosen = slow_core.rows if "--slow-core" in sys.argv[1:] else measured
    found = []
    with tempfile.TemporaryDirectory() as name:
        for row in chosen(Path(name), compiled_environment(Path(name))):
            found.append(row)
            if not as_json:
                print("\n".join(row.lines()), flush=True)
    if as_json:
        print(json.dumps([row.as_data() for row in found], indent=1))
    return 0


if __name__ == "__main__":
    sys.exit(main())
