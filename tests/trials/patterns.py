"""Cuts random patterns on a simulated machine: `python -m tests.trials.patterns [SECONDS [SEED]]`.

The checks are those of tests/core/operations/patterns/outside, for many more lathes and patterns. The seed of each
failure is printed, so that the failure can be repeated.
"""

import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from random import Random

from core.values.errors import FileError
from tests.core.operations.patterns.outside.checking import disagreements, radii_off_mm
from tests.core.operations.patterns.outside.figures_again import land_percent
from tests.core.operations.patterns.outside.job_files import card_of, mm
from tests.core.operations.patterns.outside.moves_again import wrong_moves
from tests.core.operations.patterns.outside.random_jobs import random_lathe, random_pattern
from tests.core.operations.patterns.outside.settings_again import wrong_depths, wrong_settings
from tests.core.operations.patterns.outside.test_layer_figures import wrong_figures

SECONDS, MOST_SHOWN = 120, 5


def wrong(seed: int, folder: Path) -> Iterator[str]:
    """Yield each fault on the card of the random pattern with this seed."""
    random = Random(seed)
    lathe = random_lathe(random)
    operation = random_pattern(random, lathe, exact=seed % 3 == 0)
    try:
        card = card_of(folder, operation, lathe)
    except FileError as error:
        yield f"refused: {error.messages}"
        return
    yield from disagreements(operation, lathe, card)
    yield from wrong_figures(operation, lathe, card)
    yield from wrong_settings(operation, lathe, card)
    yield from wrong_depths(card, lathe)
    yield from wrong_moves(operation, lathe, card)
    if any(off > 1 + 1e-6 for off in radii_off_mm(operation, lathe, card)):
        yield "a circle is more than half a mark of the head off"
    if "blank_diameter" in operation:
        shown = card["figures"]["land_percent"]
        raster = land_percent(card["figures"]["elements"], mm(operation["blank_diameter"]), cells=500)
        if abs(shown - raster) > 0.5:
            yield f"land_percent is {shown}, a raster finds {raster}"


def main(words: list[str]) -> int:
    """Try patterns until the time is over. Return the exit status: 1 if a pattern was wrong, otherwise 0."""
    seconds = float(words[0]) if words else SECONDS
    first, end, failed = int(words[1]) if len(words) > 1 else 0, time.monotonic() + seconds, 0
    with tempfile.TemporaryDirectory() as folder:
        for seed in count(first):
            if time.monotonic() > end:
                break
            found = list(wrong(seed, Path(folder)))
            failed += bool(found)
            for text in found[:MOST_SHOWN]:
                print(f"seed {seed}: {text}", flush=True)
    print(f"{seed - first} patterns, {failed} of them wrong")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
