"""A check of the whole log distinguishes a failing disk from a damaged log."""

from pathlib import Path

import pytest

import core.logbook.check
import core.logbook.opening
from core.logbook.check import Verification
from core.logbook.errors import LogbookDamagedError, LogbookDiskError
from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME
from tests.core.logbook.run_samples import fill

DAMAGED = Verification(runs=1, events=1, strays=0, problems=("Page 5: error",))
MALFORMED = LogbookDamagedError("malformed")


@pytest.mark.parametrize("passing", [DAMAGED, MALFORMED, LogbookDiskError("the disk")])
@pytest.mark.parametrize("times", [1, 2])
def test_damage_that_a_second_check_does_not_find_is_not_reported(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, passing: Verification | Exception, times: int
) -> None:
    """SQLite reports a failed read as damage. The next try finds the log undamaged, and that result counts."""
    fill(tmp_path, runs=2, done=3)
    looks, really = [], core.logbook.check.verify

    def verify(*arguments: object) -> Verification:
        looks.append(1)
        if len(looks) > times:
            return really(*arguments)  # type: ignore[arg-type]
        if isinstance(passing, Exception):
            raise passing
        return passing

    monkeypatch.setattr(core.logbook.check, "verify", verify)
    assert Logbook.verified(tmp_path).problems == ()
    assert len(looks) == times + 1


def test_a_failing_disk_is_not_reported_as_a_damaged_log(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Faults found while the disk cannot read a part are not called damage."""
    fill(tmp_path, runs=2, done=3)

    def cannot(path: Path) -> None:
        raise LogbookDiskError("the disk")

    monkeypatch.setattr(core.logbook.check, "verify", lambda *_: DAMAGED)
    monkeypatch.setattr(core.logbook.opening, "_read_through", cannot)
    with pytest.raises(LogbookDiskError):
        Logbook.verified(tmp_path)


def test_verifying_a_damaged_log_leaves_its_file_unchanged(tmp_path: Path) -> None:
    """The check reports the changed event and leaves the file unchanged."""
    fill(tmp_path, runs=2, done=3)
    content = bytearray((tmp_path / FILE_NAME).read_bytes())
    content[content.index(b"note 1")] ^= 1
    (tmp_path / FILE_NAME).write_bytes(content)
    assert len(Logbook.verified(tmp_path).problems) == 1
    assert (tmp_path / FILE_NAME).read_bytes() == bytes(content)
