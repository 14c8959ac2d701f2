"""Patterns at random, cut on a simulated machine: each cut lies where the job asks and where the card shows it."""

from pathlib import Path
from random import Random

import pytest

from core.values.errors import FileError
from tests.core.operations.patterns.outside.checking import disagreements, radii_off_mm
from tests.core.operations.patterns.outside.job_files import card_of
from tests.core.operations.patterns.outside.random_jobs import random_lathe, random_pattern

SEEDS = range(40)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_cut_is_where_the_job_asks_and_where_the_card_shows_it(seed: int, tmp_path: Path) -> None:
    """To half a mark of every dial for what is asked, to 1e-6 mm for what the card shows."""
    random = Random(seed)
    lathe = random_lathe(random)
    operation = random_pattern(random, lathe)
    try:
        card = card_of(tmp_path, operation, lathe)
    except FileError as error:
        pytest.fail(f"refused: {error.messages}")
    assert disagreements(operation, lathe, card) == []
    assert all(off <= 1 + 1e-6 for off in radii_off_mm(operation, lathe, card))
