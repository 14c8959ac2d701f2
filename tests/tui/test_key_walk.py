"""A short random walk by keys through all screens. The long trial is tests.trials.fuzz."""

from pathlib import Path

import pytest

from tests.trials.program import JOB
from tests.trials.walk import walk


@pytest.mark.usefixtures("every_frame")
@pytest.mark.parametrize(("size", "seed"), [((80, 24), 11), ((40, 12), 12)])
async def test_random_key_presses_never_make_a_screen_fail(tmp_path: Path, size: tuple[int, int], seed: int) -> None:
    """No key causes a traceback or a hang, and Esc leaves every screen."""
    job = tmp_path / "jobs" / JOB.name
    job.parent.mkdir()
    for path in JOB.parent.glob("*.toml"):
        (job.parent / path.name).write_bytes(path.read_bytes())
    seen = await walk(tmp_path, seed, 60, size, job, longest_s=5.0)
    assert seen.faults == []
    assert seen.keys >= 60
    assert len(seen.screens) >= 3
