"""Writes the pages of sentences again and says how many lines of each differ: `python -m tests.core.wording`."""

import sys

from tests.core.wording.pages import PAGES, kept_lines, kept_names, page_lines, page_path
from tests.golden.keeping import differences


def main() -> int:
    """Write every page that differs from the one kept, remove those that nothing makes."""
    for name in sorted(kept_names() - PAGES.keys()):
        page_path(name).unlink()
        print(f"{name}: removed, nothing makes it")
    for name in PAGES:
        lines = page_lines(name)
        changed = differences(kept_lines(name), lines)
        if changed:
            page_path(name).write_text("".join(f"{line}\n" for line in lines), encoding="utf-8", newline="\n")
            print(f"{name}: {len(changed)} lines differ")
    return 0


if __name__ == "__main__":
    sys.exit(main())
