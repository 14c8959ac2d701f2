"""Makes the pictures again, and says which have changed: `python -m tests.tui.pictures [WALK ...]`."""

import asyncio
import sys
from collections.abc import Sequence

from tests.tui.pictures.taking import HERE, README, difference, path_of, pictures, with_pictures
from tests.tui.pictures.walks import WALKS, names


def main(wanted: Sequence[str]) -> int:
    """Write every picture of the walks wanted, or of all, that differs, and those in the README; remove old ones."""
    for walk in WALKS:
        if wanted and walk.name not in wanted:
            continue
        for name, picture in asyncio.run(pictures(walk)).items():
            if changed := difference(name, picture):
                path_of(name).write_text(picture, encoding="utf-8", newline="\n")
                print("\n".join(changed))
    for path in HERE.glob("*.txt"):
        if path.stem not in names():
            path.unlink()
            print(f"{path.stem}: removed, no walk takes it")
    README.write_text(with_pictures(README.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
