"""Recordings are unchanged, hold everything that can be logged, and give their facts in the newest program."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import tests.old_logs
from core.events.event import KINDS, canonical
from core.events.replay import replay
from core.inputs import CAUSES
from core.lathe.lathe import DIAL_NAMES
from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME
from core.operations.registry import OPERATIONS
from core.pages.log_export import as_csv, as_json, as_text
from core.run.counter_view import Movements, counter_view
from core.run.revising import plan_input_of
from core.values.first_version import FIRST_CUT, OLD_WORDS
from tests.old_logs.facts import RENAMED, as_called_now, facts_of_logbook
from tests.old_logs.recordings import HERE, RECORDINGS, Recording
from tui.printing import logged_runs, verify_log

MOST_BYTES = 1_500_000
KINDS_OF_V0_1 = {"turn", "thread", "runout", "divide", "holes", "pattern", "by_hand"}
"""The kinds of operation of the first version. Later kinds are in the recording of the next version."""
each = pytest.mark.parametrize("recording", RECORDINGS, ids=str)


def runs() -> Iterator[dict[str, Any]]:
    """Yield the facts of every run of every recording, in the newest program's names."""
    for recording in RECORDINGS:
        yield from as_called_now(recording.facts()["runs"])


def test_the_recordings_made_with_the_first_version_exist() -> None:
    """The four recordings of the first version exist."""
    assert {"v0_1-runout", "v0_1-table", "v0_1-threads", "v0_1-turning"} <= {str(found) for found in RECORDINGS}


@each
def test_the_recorded_logs_have_their_original_checksums(recording: Recording) -> None:
    """The recording is the same byte for byte, and SQLite has left no file next to it."""
    assert recording.sha256 == recording.facts()["sha256"]
    assert sorted(path.name for path in recording.folder.iterdir()) == ["facts.json", FILE_NAME, "replanned.json"]


def test_the_recordings_contain_no_path_of_a_real_machine() -> None:
    """The recordings hold no path of a real machine. Their jobs are in a neutral folder."""
    files = [path for path in HERE.glob("v*/**/*") if path.is_file()]
    assert sum(path.stat().st_size for path in files) < MOST_BYTES
    of_a_machine = re.compile(rb"(?i)[/\\](?:home|root|tmp|users|var|mnt|media|work)[/\\]")
    assert [path.name for path in files if of_a_machine.search(path.read_bytes())] == []
    assert {Path(run["job"]).parent for run in runs() if run["job"]} == {Path("/jobs")}


LATER_CAUSES = {"cut wrong", "put back"}
"""Causes that the recorded version does not have."""


def test_the_recordings_contain_every_kind_of_logged_event() -> None:
    """A new kind or cause needs a recording. Each cause must also occur among events that were not undone."""
    found = list(runs())
    assert {kind for run in found for kind in run["logged"]} >= set(KINDS)
    assert {cause for run in found for cause in run["causes"]} >= set(CAUSES) - LATER_CAUSES
    assert {cause for run in found for cause in run["revisions"]} >= set(CAUSES) - LATER_CAUSES


def test_the_recordings_contain_finished_and_unfinished_runs_of_every_operation() -> None:
    """One was abandoned, some were interrupted between two starts of the program, some belong to no job."""
    found = list(runs())
    for status in ("running", "finished"):
        assert {run["kind"] for run in found if run["status"] == status} >= KINDS_OF_V0_1, status
    assert {run["status"] for run in found} == {"running", "finished", "abandoned"}
    assert sum(run["sessions"] > 1 for run in found) > 5
    assert sum(run["job"] is None for run in found) >= 3


def test_the_package_docstring_lists_every_recorded_run() -> None:
    """The docstring names every run under its logbook."""
    text = tests.old_logs.__doc__ or ""
    for recording in RECORDINGS:
        _, found, rest = text.partition(f"\n{recording.folder.parent.name}/{recording.folder.name}\n")
        assert found, recording
        told = rest.partition("\n\n")[0]
        for run in recording.facts()["runs"]:
            assert f"- {run['name']}: " in told, run["name"]


@each
def test_reading_a_recorded_log_gives_the_recorded_facts(recording: Recording, tmp_path: Path) -> None:
    """The facts of each run must agree, even after keys, types and modules were renamed.

    Later facts are not asked for.
    """
    wanted = as_called_now(recording.facts()["runs"])
    found = facts_of_logbook(recording.copy_to(tmp_path), recording.jobs)
    assert [{key: fact[key] for key in old} for old, fact in zip(wanted, found, strict=True)] == wanted


def test_no_old_name_of_a_renamed_key_is_still_in_use() -> None:
    """A name in RENAMED that the program still uses would be confused with its new name."""
    assert not {name for names in RENAMED.values() for name in names} & {*KINDS, *CAUSES, *OPERATIONS, *DIAL_NAMES}


@each
def test_checking_a_recorded_log_finds_no_damage(recording: Recording, tmp_path: Path) -> None:
    """The check is that of `halfnut log --verify`."""
    assert verify_log(recording.copy_to(tmp_path))


@each
def test_every_recorded_run_can_be_shown_and_exported(recording: Recording, tmp_path: Path) -> None:
    """The counter shows its step. Each event has a row as text and CSV, and is exported as JSON."""
    count = sum(sum(run["logged"].values()) for run in recording.facts()["runs"])
    with Logbook.open(recording.copy_to(tmp_path), read_only=True) as logbook:
        logged = list(logged_runs(logbook))
        for info, events in logged:
            state = replay(events, info.uid)
            plan_input = plan_input_of(state.plan_input)
            lathe = plan_input.lathe
            assert counter_view(lathe, state, Movements(plan_input)).title
            assert (lathe.name, lathe.example) == (state.plan_input.lathe_name, state.plan_input.stand_in)
    assert sum(line.startswith("  ") and line[:7].strip().isdigit() for line in as_text(logged)) == count
    assert len(list(as_csv(logged))) == count + 1
    exported = [event for run in json.loads("".join(as_json(logged))) for event in run["events"]]
    assert len(exported) == count
    found = {word for event in exported for word in OLD_WORDS.findall(canonical(event["body"]))}
    # The only old word is the kind that the first version gave to every cut, such as a face or a groove.
    assert found <= {f'"kind":"{FIRST_CUT}"'}
