"""Every state in which a power cut may leave the logbook can be opened.

The long trial is tests.trials.power_cuts.
"""

import random
from pathlib import Path

import pytest

from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME
from tests.core.logbook.run_samples import begin
from tests.trials import power_cuts, traced
from tests.trials.disk_model import SECTOR, File, Folder

NAMES = (FILE_NAME, f"{FILE_NAME}-wal")


def test_a_sector_of_the_simulated_disk_may_hold_any_write_since_the_last_sync() -> None:
    """After two writes without a sync, each sector on its own is old or as one of the writes left it."""
    file = File()
    file.write(0, b"a" * SECTOR * 2)
    file.sync()
    file.write(0, b"b" * SECTOR)
    file.write(0, b"c" * SECTOR * 2)
    rng = random.Random(1)
    found = {file.on_disk(rng.randrange) for _ in range(200)}
    assert found == {bytes([one]) * SECTOR + bytes([other]) * SECTOR for one in b"abc" for other in b"ac"}
    file.sync()
    assert file.on_disk(rng.randrange) == b"c" * SECTOR * 2


def test_a_simulated_power_cut_can_lose_file_names_in_a_folder_that_was_not_synced() -> None:
    """A new file may be gone, whether its content was synced or not."""
    folder, file = Folder(), File()
    folder.put({"new": file})
    file.write(0, b"x")
    file.sync()
    assert {tuple(state) for state in folder.states(random.Random(1), 3)} == {(), ("new",)}
    folder.sync()
    assert {tuple(state) for state in folder.states(random.Random(1), 3)} == {("new",)}


def test_a_power_cut_during_a_commit_loses_no_logged_event(tmp_path: Path) -> None:
    """Each sector that the later of two commits wrote may be old or new. This trial needs no tool such as strace."""
    rng, states = random.Random(20261125), 0
    with Logbook.open(tmp_path / "log") as logbook:
        run = begin(logbook, passes=40)
        for number in range(24):
            if number == 12:
                logbook.checkpoint()
            before = {name: (tmp_path / "log" / name).read_bytes() for name in NAMES}
            acknowledged = {run.uid: run.state.last_seq}
            run.note("x" * 6000) if number % 7 == 3 else run.done()
            folder = Folder()
            for name, content in before.items():
                folder.put({name: File([content, (tmp_path / "log" / name).read_bytes()])})
            folder.sync()
            written = {run.uid: logbook.events(run.uid)}
            for state in folder.states(rng, 4):
                assert power_cuts.judge(state, acknowledged, written) == "", number
                states += 1
    assert states > 150


@pytest.mark.skipif(not traced.available(), reason="strace is missing, or not allowed")
def test_a_power_cut_between_any_two_syncs_leaves_the_log_undamaged() -> None:
    """The states follow from the recorded writes and syncs, from the file's creation to its closing."""
    tally = power_cuts.run(6, drawn=1)
    assert tally.calls > 80
    assert tally.different > 150
    assert (tally.losses, tally.lines) == (0, [])
