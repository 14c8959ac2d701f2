"""Names of the first version are read in files and in the log. No name is written, and no other module knows one.

`tests/first_version` holds jobs and lathes as that version wrote them. These files are never made again.
"""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from core.events.event import canonical
from core.events.replay import replay
from core.events.state import state_summary
from core.inputs import SetTo, input_from_data
from core.jobs.card import card_data
from core.jobs.editor import change_operation
from core.jobs.job import parse_job, read_job
from core.lathe.reader import read_lathe
from core.lathe.set_up.draft import draft_path, read_draft
from core.lathe.writer import is_untouched, lathe_text
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.logbook.rows import in_todays_names
from core.operations.registry import OPERATIONS
from core.plan import plan_as_data
from core.run.revising import logged_plan_input, plan_input_of, still_matches
from core.values import first_version
from core.values.errors import FileError
from core.values.files import read_toml
from core.values.first_version import (
    DIALS,
    FIGURES,
    FIRST_CUT,
    KINDS,
    LATHE_KEYS,
    LATHE_PARTS,
    LAYER_KEYS,
    MEETINGS,
    MOVES,
    OLD_WORDS,
    OPERATION_KEYS,
)
from tests.core.events.events_made import event
from tests.core.logbook.run_samples import StepClock
from tests.core.planned import make_plan

ROOT = Path(__file__).parents[3]
FIRST, SAMPLES, GOLDEN = ROOT / "tests" / "first_version", ROOT / "sample_jobs", ROOT / "tests" / "golden"
LOGGED_FROM = ROOT / "tests" / "old_logs" / "v0_1" / "jobs"
HEADER = 'format = 1\ntitle = "It"\nlathe = "mixed_lathe.toml"\n'
EVERY_NAME = {
    **DIALS, **LATHE_PARTS, **OPERATION_KEYS, **LAYER_KEYS, **KINDS, **MEETINGS,
    **{old: new for keys in LATHE_KEYS.values() for old, new in keys.items()},
}  # fmt: skip


def jobs() -> list[Path]:
    """Return the saved jobs that have names of the first version."""
    return [path for path in sorted(FIRST.glob("*.toml")) if "operation" in read_toml(path)]


def today(path: Path) -> Path:
    """Return the same job with today's names."""
    folders = (SAMPLES, GOLDEN / "jobs", FIRST / "today")
    return next(folder / path.name for folder in folders if (folder / path.name).exists())


def card(path: Path) -> dict[str, Any]:
    """Return the card of a job. The lathe of a golden job may be among the samples."""
    return card_data(read_job(path))


def names_in(data: Any) -> Iterator[str]:
    """Yield every key and every text in some tables."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield key
            yield from names_in(value)
    elif isinstance(data, list):
        for value in data:
            yield from names_in(value)
    elif isinstance(data, str):
        yield data


# Files.


@pytest.mark.parametrize("path", jobs(), ids=lambda path: path.stem)
def test_a_job_file_with_old_names_gives_the_same_card_as_its_translation(path: Path) -> None:
    """Both cards are the same JSON."""
    found, wanted = card(path), card(today(path))
    assert json.dumps(found["operations"]) == json.dumps(wanted["operations"])


def test_every_old_name_occurs_in_at_least_one_saved_file() -> None:
    """Together with the test of cards, this proves that each name is read."""
    files = [*FIRST.glob("*.toml"), *(FIRST / "lathes").glob("*.toml"), *LOGGED_FROM.glob("*.toml")]
    found = {name for path in files for name in names_in(read_toml(path))}
    assert {*EVERY_NAME, FIRST_CUT} - found == set()
    kinds = {table["kind"] for path in jobs() for table in read_toml(path)["operation"]}
    assert set(KINDS) <= kinds


@pytest.mark.parametrize("name", ["full", "small"])
def test_a_lathe_file_with_old_names_describes_the_same_lathe_as_its_translation(name: str) -> None:
    """The first version's set-up wrote this file. Written again, it has today's names."""
    old, new = FIRST / "lathes" / f"{name}.toml", GOLDEN / "lathes" / f"{name}.toml"
    assert is_untouched(old.read_text()) and read_lathe(old) == read_lathe(new)
    assert lathe_text(read_toml(old)) == new.read_text() == lathe_text(read_lathe(old).data)


@pytest.mark.parametrize(("old", "new"), [*DIALS.items(), *LATHE_PARTS.items()])
def test_a_lathe_file_with_an_old_and_a_new_name_for_one_part_is_refused(tmp_path: Path, old: str, new: str) -> None:
    """The refusal gives both names."""
    table = 'graduation = "0.1 mm"\nreads = "travel"\n' if old in DIALS else "teeth = [16]\nlines = [4]\n"
    part = "dial." if old in DIALS else ""
    path = tmp_path / "lathe.toml"
    path.write_text(f'format = 1\nname = "L"\n[{part}{old}]\n{table}[{part}{new}]\n{table}')
    with pytest.raises(FileError, match=rf"{old}: .*\b{new}\b") as refused:
        read_lathe(path)
    assert len(refused.value.every) == 1


@pytest.mark.parametrize(("old", "new"), [*OPERATION_KEYS.items()])
def test_an_operation_with_an_old_and_a_new_key_for_one_value_is_refused(old: str, new: str) -> None:
    """Every kind of operation refuses such a pair."""
    text = f'{HEADER}[[operation]]\nkind = "turn"\nname = "A"\n{old} = "1 mm"\n{new} = "1 mm"\n'
    with pytest.raises(FileError, match=rf"{old}: .*\b{new}\b"):
        parse_job(text, SAMPLES / "x.toml")


_RING = '[[operation.ring]]\ncount = 3\noffset = "9 mm"\ncutter_radius = "touch"\ndepth = "0.1 mm"\n'
_LAYER = '[[operation.layer]]\nshape = "circles"\ncount = 5\noffset = "9 mm"\nmeet = "points"\ndepth = "0.1 mm"\n'


@pytest.mark.parametrize(
    ("table", "old", "new"),
    [
        (_RING + _LAYER, "ring", "layer"),
        (f'cut = "0.05 mm"\n{_LAYER}', "cut", "layer"),
        (f'tip_angle = "90 deg"\n[[operation.cutter]]\nname = "c"\n{_RING}', "tip_angle", "cutter"),
        (f'{_RING}meet = "grooves"\n', "cutter_radius", "meet"),
    ],
)
def test_a_pattern_that_mixes_old_keys_of_rings_with_new_tables_is_refused(table: str, old: str, new: str) -> None:
    """Neither of two values for one thing is silently dropped."""
    text = f'{HEADER}[[operation]]\nkind = "rings"\nname = "A"\ndepth_dial = "saddle"\n{table}'
    with pytest.raises(FileError, match=rf"{old}: .*\b{new}\b"):
        parse_job(text, SAMPLES / "x.toml")


def test_an_old_key_inside_a_layer_of_a_pattern_is_still_read() -> None:
    """A file edited by hand may combine the new kind and tables with old keys inside them."""
    layer = _LAYER.replace('meet = "points"', 'cutter_radius = "1 mm"')
    table = f'kind = "pattern"\nname = "A"\ndepth_dial = "carriage"\n{layer}'
    (pattern,) = parse_job(f"{HEADER}[[operation]]\n{table}", SAMPLES / "x.toml").operations
    (new,) = pattern.plan_input.parameters["layer"]
    assert new["circle_radius"] == "1 mm" and "cutter_radius" not in new


def test_a_refusal_names_a_toml_table_by_the_name_used_in_the_file(tmp_path: Path) -> None:
    """Reader and set-up use the old name. If the file has today's table too, an error in it gets today's name."""
    path = tmp_path / "lathe.toml"
    path.write_text('format = 1\nname = "L"\n[chasing_dial]\nteeth = [16]\nlines = [999]\n')
    for read in (read_lathe, read_draft):
        with pytest.raises(FileError, match=r"\[chasing_dial\], lines: 999"):
            read(path)
    dial = 'graduation = "0.1 mm"\nreads = "travel"\n'
    path.write_text(f'format = 1\nname = "L"\n[dial.saddle]\n{dial}[dial.carriage]\n{dial}lead = "x"\n')
    with pytest.raises(FileError, match=r"\[dial\.carriage\], lead"):
        read_lathe(path)


@pytest.mark.parametrize(
    ("table", "key"),
    [
        ('kind = "thread"\nname = "A"\nthread = "M20"\nset_over = "75 deg"', "set_over"),
        ('kind = "runout"\nname = "A"\npositions = 8\nholding = "glue"', "holding"),
        (
            'kind = "rings"\nname = "A"\n[[operation.ring]]\ncount = 3\noffset = "9 mm"\ncutter_radius = "x"',
            "cutter_radius",
        ),
        (
            'kind = "rings"\nname = "A"\n[[operation.ring]]\ncount = 3\noffset = "9 mm"\ncutter_radius = "1 mm"\n'
            "left_out = [9]",
            "left_out",
        ),
    ],
)
def test_an_error_message_spells_each_key_as_the_file_spells_the_key(table: str, key: str) -> None:
    """A refusal uses the old key, as the user wrote it."""
    with pytest.raises(FileError, match=f", {key}: "):
        parse_job(f"{HEADER}[[operation]]\n{table}\n", SAMPLES / "x.toml")


def test_sample_jobs_golden_jobs_and_the_example_lathe_contain_no_old_names() -> None:
    """No name in samples, golden jobs or the example lathe needs a translation."""
    for path in [
        *SAMPLES.glob("*.toml"),
        *(GOLDEN / "jobs").glob("*.toml"),
        ROOT / "core" / "data" / "example_lathe.toml",
    ]:
        data = read_toml(path)
        assert first_version.lathe_table(data) is data, path
        for table in data.get("operation", ()):
            assert first_version.operation_table(table) is table, path


def test_a_changed_operation_is_written_with_current_names(tmp_path: Path) -> None:
    """Other operations stay as they are, and so do comments. The file can be read."""
    thread = (
        '[[operation]]\nkind = "thread"\nname = "Nose"\nthread = "M20x1.5"\nset_over = "29 deg"  # as the old one\n'
        "passes = 9\n"
    )
    index = (
        '[[operation]]\nkind = "index"  # in sixes\nname = "Six"\ndivisions = 6\ndepth = "1 mm"\n'
        'depth_dial = "saddle"\n'
    )
    path = tmp_path / "job.toml"
    path.write_text(HEADER.replace("mixed", str(SAMPLES / "mixed")) + thread + index)
    before = {operation.name: operation.plan_input.parameters for operation in read_job(path).operations}
    change_operation(path, "Nose", {**before["Nose"], "passes": 12})
    changed = thread.replace("set_over", "compound_angle").replace("= 9", "= 12")
    assert path.read_text().endswith(changed + index)
    change_operation(path, "Six", {**before["Six"], "divisions": 7})
    changed += index.replace('"index"', '"divide"').replace("= 6", "= 7").replace('"saddle"', '"carriage"')
    assert path.read_text().endswith(changed)
    assert [operation.kind for operation in read_job(path).operations] == ["thread", "divide"]


def test_editing_a_pattern_with_old_names_rewrites_the_pattern_with_current_names(tmp_path: Path) -> None:
    """The table of rings becomes layers, and its point becomes a cutter."""
    path = tmp_path / "hour_lines.toml"
    for name in ("hour_lines", "mixed_lathe"):
        (tmp_path / f"{name}.toml").write_text((FIRST / f"{name}.toml").read_text())
    border = read_job(path).operations[2].plan_input.parameters
    change_operation(path, "Border", {**border, "blank_diameter": "92 mm"})
    written = read_toml(path)["operation"][2]
    assert written == {**border, "blank_diameter": "92 mm"} and written["layer"][0]["meet"] == "points"
    assert first_version.operation_table(written) is written


def test_a_draft_of_a_lathe_with_old_names_can_still_be_read(tmp_path: Path) -> None:
    """A draft and a lathe file of the first version are read together."""
    path = tmp_path / "lathe.toml"
    path.write_text((FIRST / "lathes" / "full.toml").read_text())
    draft_path(path).parent.mkdir()
    answers = [
        [["dial", "saddle", "backlash"], "0.2 mm"],
        [["stock", "packing"], ["0.3 mm"]],
        [["spindle", "run_down"], 2],
    ]
    draft_path(path).write_text(json.dumps({"format": 1, "place": ["chasing_dial", 1], "answers": answers}))
    draft = read_draft(path)
    assert draft.note == "" and draft.place == ("thread_dial", 1)
    assert draft.tables["stock"]["shims"] == ["0.3 mm"] and draft.tables["spindle"]["coast_turns"] == 2
    assert draft.tables["dial"]["carriage"]["backlash"] == "0.2 mm"


# The log.


@pytest.mark.parametrize(("old", "new"), FIGURES.items())
def test_a_figure_logged_under_an_old_name_is_read_under_its_current_name(old: str, new: str) -> None:
    """The figure is in a plan or in a step."""
    body = {"plan": {"figures": {"a": [{old: 1}]}, "steps": [{"id": 1, "extra": {old: 2}}]}}
    found = in_todays_names(event(0, "begun", body), canonical(body)).body["plan"]
    assert found == {"figures": {"a": [{new: 1}]}, "steps": [{"id": 1, "extra": {new: 2}}]}


@pytest.mark.parametrize(("old", "new"), MOVES.items())
def test_a_move_logged_under_an_old_name_is_read_under_its_current_name(old: str, new: str) -> None:
    """Moves are among the figures of a runout."""
    body = {"plan": {"figures": {"moves": [{"how": old, "where": "jaw 1"}]}, "steps": []}}
    found = in_todays_names(event(0, "begun", body), canonical(body)).body["plan"]["figures"]
    assert found == {"moves": [{"how": new, "where": "jaw 1"}]}


@pytest.mark.parametrize(("old", "new"), DIALS.items())
def test_a_dial_logged_under_an_old_name_is_read_under_its_current_name(old: str, new: str) -> None:
    """Settings, touch-offs and dials that were set differently contain names of dials."""
    step = {"id": 2, "settings": [{"dial": old, "unit": "mm"}], "zeroes": [old, "compound"]}
    given = {"dial": old, "position": "1/2", "shown": "0.5"}
    body = {"cause": "set", "given": given, "steps": [step]}
    found = in_todays_names(event(1, "revised", body), canonical(body)).body
    assert found["steps"] == [{"id": 2, "settings": [{"dial": new, "unit": "mm"}], "zeroes": [new, "compound"]}]
    entered = input_from_data("set", found["given"])
    assert isinstance(entered, SetTo) and entered.dial == new
    body = {"step": 1, "value": {old: "1.25", "compound": "0"}}
    assert in_todays_names(event(1, "done", body), canonical(body)).body["value"] == {new: "1.25", "compound": "0"}


def test_an_event_with_only_current_names_is_returned_without_being_copied() -> None:
    """The same object is returned, even if a text of the user contains an old name."""
    body = {"text": 'the "saddle", a "ring" and kind:"index"'}
    note = event(3, "note", body)
    assert in_todays_names(note, canonical(body)) is note


@pytest.mark.parametrize("path", jobs(), ids=lambda path: path.stem)
def test_a_run_of_a_job_with_old_names_is_logged_with_current_names(path: Path, tmp_path: Path) -> None:
    """Events and list of runs have current names. The run belongs to the file with old names and to its translation."""
    operations = zip(read_job(path).operations, read_job(today(path)).operations, strict=True)
    with Logbook.open(tmp_path) as logbook:
        for number, (old, new) in enumerate(operations):
            run = ActiveRun.begin(
                logbook, old.plan, logged_plan_input(old.plan_input), None, StepClock(), f"{number:032x}"
            )
            (begun,) = logbook.events(run.uid)
            assert not OLD_WORDS.search(canonical(begun.body))
            assert {info.kind for info in logbook.runs()} <= set(OPERATIONS)
            assert still_matches(run.state.plan_input.digests, old) and still_matches(run.state.plan_input.digests, new)
            run.close()


@pytest.mark.parametrize("path", jobs(), ids=lambda path: path.stem)
def test_a_run_logged_by_the_first_version_is_planned_with_current_names(path: Path) -> None:
    """The run's plan input equals that of the file.

    The run belongs to the file with old names and to its translation.
    """
    for old, new in zip(read_job(path).operations, read_job(today(path)).operations, strict=True):
        if old.written["kind"] == FIRST_CUT:
            # tests/old_logs checks that such a run continues as it was started.
            continue
        logged = logged_plan_input(old.plan_input)
        kept = {name: getattr(logged, name) for name in ("material", "lathe_name", "stand_in")}
        first = {**kept, "kind": old.written["kind"], "parameters": old.written, "lathe": old.plan_input.lathe.written}
        body = {"program": "1", "origin": None, "plan": plan_as_data(old.plan), "digest": "", **first}
        found = replay([in_todays_names(event(0, "begun", body), canonical(body))])
        plan_input = plan_input_of(found.plan_input)
        # If the file has no means, a run of that version has the table set by its dial.
        filled = {"with": plan_input.parameters["with"]} if new.kind == "pattern" else {}
        assert (plan_input.kind, plan_input.parameters) == (new.kind, filled | old.plan_input.parameters)
        assert plan_as_data(make_plan(plan_input)) == plan_as_data(new.plan)
        assert still_matches(found.plan_input.digests, old) and still_matches(found.plan_input.digests, new)


@pytest.mark.parametrize("path", jobs(), ids=lambda path: path.stem)
def test_the_list_of_runs_and_the_run_agree_on_whether_the_job_files_have_changed(path: Path, tmp_path: Path) -> None:
    """The board uses the list of runs. Both agree for changed files of a first-version run."""
    with Logbook.open(tmp_path) as logbook:
        for old, new in zip(read_job(path).operations, read_job(today(path)).operations, strict=True):
            logged = logged_plan_input(old.plan_input)
            kept = {name: getattr(logged, name) for name in ("material", "lathe_name", "stand_in")}
            origin = {"job_path": str(path), "job_title": "It", "op_name": old.name}
            first = {**kept, "kind": old.written["kind"], "parameters": old.written}
            first |= {"lathe": old.plan_input.lathe.written, "plan": plan_as_data(old.plan), "origin": origin}
            begun = event(0, "begun", json.loads(canonical({"program": "1", "digest": "", **first})))
            uid = f"{old.number:032x}"
            logbook.begin(uid, begun, state_summary(replay([begun], uid)))
            info = logbook.newest_run(str(path), old.name)
            run = replay(logbook.events(uid), uid)
            assert info is not None and info.digests == run.plan_input.digests
            assert still_matches(info.digests, old)
            assert still_matches(info.digests, new) or old.written["kind"] == FIRST_CUT


# Other modules.

_ANYWHERE = re.compile(
    r"\b(?:saddle|cutter.?head|chasing.?dial|fim|fim_mm|axis_height_error|cutter_radius)\b", re.IGNORECASE
)
_QUOTED = re.compile(
    "[\"'`](?:" + "|".join({*EVERY_NAME, *FIGURES, *MOVES} - {"index", "check", "touch"}) + ")[\"'`]"
    '|kind (?:==|!=|=|in) *[("\']*(?:index|check|cut)["\']|"kind": "(?:index|check|cut)"'
)


def test_only_the_module_named_first_version_contains_old_names() -> None:
    """No other module has an old name, as a key or in a sentence."""
    files = [*(ROOT / "core").rglob("*.py"), *(ROOT / "tui").rglob("*.py")]
    for path in files:
        if path.name == "first_version.py":
            continue
        text = path.read_text(encoding="utf-8")
        assert not (found := _ANYWHERE.search(text) or _QUOTED.search(text)), f"{path}: {found}"
