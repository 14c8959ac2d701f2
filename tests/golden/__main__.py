"""Saves the golden cards again, and prints how many rows of each have changed: `python -m tests.golden`."""

import sys

from tests.golden.card_lines import golden_lines
from tests.golden.keeping import differences, drop, keep, kept_lines, kept_names, sources


def main() -> int:
    """Save every card that has changed, and delete cards without a job. Return the exit status 0."""
    jobs = sources()
    for name in sorted(kept_names() - jobs.keys()):
        drop(name)
        print(f"{name}: removed, there is no such job")
    for name, path in jobs.items():
        lines = golden_lines(path)
        changed = differences(kept_lines(name), lines)
        if changed:
            keep(name, lines)
            print(f"{name}: {len(changed)} lines differ")
    return 0


if __name__ == "__main__":
    sys.exit(main())
