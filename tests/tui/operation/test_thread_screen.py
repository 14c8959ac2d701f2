"""The form of threading: typed values, checks, figures, starting and saving."""

import csv
import json
import shutil
import tomllib
from pathlib import Path

import pytest
from textual.events import Key
from textual.pilot import Pilot

from core.jobs.job import read_job
from core.logbook.logbook import Logbook
from core.operations.registry import PlanInput
from tests.conftest import MakeApp
from tests.tui.made_up import Begun, Under, fill, opened, paste, press, wrong
from tests.tui.painted import painted
from tui.app import HalfnutApp
from tui.counter.caution_page import StartPage
from tui.counter.screen import CounterScreen
from tui.operation.form import OperationForm
from tui.operation.results import PICTURES
from tui.operation.thread import ThreadScreen
from tui.paths import Paths
from tui.widgets.quantity_field import QuantityField
from tui.widgets.question import Typed, YesNo

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
PUBLISHED = Path(__file__).parents[2] / "published"
METRIC, INCH = SAMPLES / "metric_lathe.toml", SAMPLES / "inch_lathe.toml"
HOSTILE = "[bold]a[/ b[/bold] \x1b]52;c;aGk=\x07\x9b2J \u202egnp.exe [@click=app.quit]x[/]"


def app_of(pilot: Pilot[None]) -> HalfnutApp:
    """Return the program under test."""
    assert isinstance(pilot.app, HalfnutApp)
    return pilot.app


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> Begun:
    """Record the input of a started run without starting the run."""
    noted = Begun()
    monkeypatch.setattr("tui.runs.start_without_job", noted.begin)
    return noted


@pytest.fixture
def job_path(tmp_path: Path) -> Path:
    """Return a copy of a sample job next to its lathe file."""
    for name in ("sundial_arbor.toml", "metric_lathe.toml"):
        shutil.copy(SAMPLES / name, tmp_path / name)
    return tmp_path / "sundial_arbor.toml"


def printed_limits() -> list[tuple[str, str, str]]:
    """Return (thread, name of the limit, printed value) from the metric table of limits [mm]."""
    with (PUBLISHED / "threads_metric.csv").open(encoding="utf-8") as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        return [
            (json.loads(row["inputs"])["designation"], row["quantity"], row["printed"])
            for row in rows
            if row["quantity"].startswith(("external major", "external pitch"))
            and row["quantity"].endswith(("diameter max", "diameter min"))
            and "from memory" not in row["source"]
        ]


async def test_the_limits_of_a_thread_are_updated_while_its_designation_is_typed(make: MakeApp) -> None:
    """The limits of some outside threads equal the values printed in ISO 965-2."""
    every = printed_limits()
    threads = list(dict.fromkeys(thread for thread, _, _ in every))[::3]
    limits = [row for row in every if row[0] in threads]
    assert len(limits) >= 12
    async with opened(make, ThreadScreen(), size=(100, 24)) as (pilot, _screen):
        shown = ""
        for number, (thread, name, value) in enumerate(limits):
            if not number or thread != limits[number - 1][0]:
                await fill(pilot, "thread", thread)
                shown = painted(pilot.app)
            assert f" {float(value):.3f}".rstrip("0").rstrip(".") + " mm" in shown, (thread, name)


@pytest.mark.parametrize(
    ("lathe", "angles"),
    [
        # Common practice, no source: zero parallel, 30 degrees off square reads 60, 29 reads 61.
        (METRIC, (("30", "60"), ("29", "61"))),
        (INCH, (("29", "29"),)),
    ],
)
async def test_the_compound_angle_is_shown_as_a_reading_of_the_compounds_own_scale(
    make: MakeApp, lathe: Path, angles: tuple[tuple[str, str], ...]
) -> None:
    """Text and picture give the setting in the numbers of the compound's scale."""
    async with opened(make, ThreadScreen({"thread": "M30x3.5"}), size=(120, 36), lathe=lathe) as (pilot, screen):
        for typed, scale in angles:
            await fill(pilot, "compound_angle", typed)
            assert f"{scale}° ({typed}° " in painted(pilot.app)
        screen.page = PICTURES
        await pilot.pause()
        assert f"{scale}°" in painted(pilot.app)


# A flat tip and a relief, limits inside and straight infeed, inches and a rounded tip.
@pytest.mark.parametrize("number", [("sundial_arbor", 3), ("engraving_fixture", 3), ("gnomon_screw", 2)])
async def test_editing_a_thread_operation_shows_its_saved_values(make: MakeApp, number: tuple[str, int]) -> None:
    """The fields show the operation's texts unchanged, and the plan equals the job's plan."""
    path = SAMPLES / f"{number[0]}.toml"
    operation = read_job(path).operations[number[1] - 1]
    async with opened(make, ThreadScreen(operation.plan_input.parameters), job=path) as (_, screen):
        assert screen.plan_input == operation.plan_input
        assert screen.plan == operation.plan


async def test_numbers_typed_without_a_unit_are_saved_in_the_unit_of_the_lathe(make: MakeApp, begun: Begun) -> None:
    """A bare number is saved with the lathe's unit, and a text with a unit is saved unchanged."""
    async with opened(make, ThreadScreen(), lathe=INCH) as (pilot, _screen):
        await paste(pilot, "7/8-9 UNC")
        await press(pilot, "enter", "enter", "enter", *".872", "enter")
        await paste(pilot, "bronze")
        await press(pilot, "enter", "plus", "plus", "enter")
        for text in ("0.3 mm", "", "3/16", "0.71"):
            await paste(pilot, text)
            await press(pilot, "enter")
        await paste(pilot, "1 1/8")
        await press(pilot, "f5")
    assert begun == [
        PlanInput(
            kind="thread",
            parameters={
                "kind": "thread",
                "name": "Thread 7/8-9 UNC-2A",
                "thread": "7/8-9 UNC",
                "blank": ".872 in",
                "tool_radius": "0.3 mm",
                "relief": "3/16 in",
                "relief_diameter": "0.71 in",
                "length": "1 1/8 in",
            },
            lathe=app_of(pilot).context.lathe,
            material="bronze",
        )
    ]


async def test_every_field_of_the_thread_form_is_saved_under_its_key_of_the_job_file(make: MakeApp) -> None:
    """Every choice and field is saved as a key of the job file."""
    async with opened(make, ThreadScreen(), lathe=METRIC) as (pilot, screen):
        form = screen.query_one(OperationForm)
        form.choices["by"][1].focus()
        await press(pilot, "right")
        for key in ("side", "runs", "infeed"):
            form.choices[key][1].focus()
            await press(pilot, "left")
        form.choices["infeed"][1].focus()
        # The field of the angle comes into sight once the choice has been judged.
        await press(pilot, "left")
        await press(pilot, "down", *"28")
        typed = {"major": "20", "pitch": "2", "passes": "12", "deepest_pass": "0.2", "lightest_pass": "0.05"}
        for key, text in {**typed, "spring_passes": "0", "speed": "95", "wire": "1.2"}.items():
            await fill(pilot, key, text)
        assert screen.plan_input.parameters == {
            "kind": "thread",
            "name": "Thread 60 deg 20 x 2 mm",
            "form": "60 deg",
            "major": "20 mm",
            "pitch": "2 mm",
            "side": "inside",
            "runs": "from the chuck",
            "infeed": "flank",
            "compound_angle": "28 deg",
            "passes": 12,
            "deepest_pass": "0.2 mm",
            "lightest_pass": "0.05 mm",
            "spring_passes": 0,
            "speed": "95 rpm",
            "wire": "1.2 mm",
        }


WRONG = (
    ("thread", HOSTILE.replace("\x1b", "").replace("\x07", "").replace("\x9b", "")),
    ("blank", "29,8,5"),
    ("tool_flat", "2"),
    ("passes", "many"),
    ("compound_angle", "99"),
)


async def test_each_error_in_the_thread_form_is_shown_beside_its_field(make: MakeApp, begun: Begun) -> None:
    """The error is shown at no other field, and nothing can be started or saved meanwhile."""
    table = {"thread": "M30x3.5-6g", "tool_flat": "0.3 mm"}
    async with opened(make, ThreadScreen(table)) as (pilot, screen):
        for key, text in WRONG:
            assert screen.ready and wrong(screen) == set()
            await fill(pilot, key, text)
            assert wrong(screen) == {key}, text
            assert not screen.ready and screen.plan is None
            await press(pilot, "f5", "f4", "f8")
            assert pilot.app.screen is screen and begun == []
            await fill(pilot, key, table.get(key, ""))


async def test_enter_moves_the_cursor_to_an_empty_required_field(make: MakeApp, begun: Begun) -> None:
    """A flat tip needs its width. The missing width is marked, and Enter moves the cursor to its field."""
    async with opened(make, ThreadScreen()) as (pilot, screen):
        assert wrong(screen) == {"thread"}
        await paste(pilot, "M10")
        assert wrong(screen) == set()
        screen.query_one(OperationForm).choices["tip"][1].focus()
        await press(pilot, "plus")
        assert wrong(screen) == {"tool_flat"}
        screen.query_one("#actions").focus()
        await press(pilot, "enter", *"0.1")
        assert screen.plan_input.parameters["tool_flat"] == "0.1 mm"
        assert begun == [] and screen.ready


async def test_flank_infeed_on_a_lathe_without_a_compound_dial_is_refused_below_the_fields(
    make: MakeApp, tmp_path: Path
) -> None:
    """Straight infeed is accepted without a compound."""
    lathe = tmp_path / "lathe.toml"
    lathe.write_text(
        'format = 1\nname = "Plain"\n[dial.cross_slide]\nper_turn = "4 mm"\ngraduation = "0.05 mm"\n'
        'reads = "diameter"\n'
    )
    table = {"thread": "M10", "infeed": "flank"}
    async with opened(make, ThreadScreen(table), lathe=lathe, size=(120, 36)) as (pilot, screen):
        assert screen.plan is None and wrong(screen) == set()
        assert "[dial.compound]" in painted(pilot.app)
        screen.query_one(OperationForm).choices["infeed"][1].focus()
        await press(pilot, "plus")
        assert screen.ready and screen.plan_input.parameters["infeed"] == "straight"


@pytest.mark.parametrize("onward", ["enter", "down", "tab"])
async def test_characters_typed_quickly_after_enter_go_into_the_next_field(make: MakeApp, onward: str) -> None:
    """Characters typed quickly after Enter, Down or Tab still reach the newly focused field."""
    async with opened(make, ThreadScreen(), lathe=METRIC) as (pilot, screen):
        for key in [*"M27x3", onward, onward, onward, *"26.8", onward]:
            pilot.app.post_message(Key(key, key if len(key) == 1 else None))
        for _ in range(6):
            await pilot.pause()
        parameters = screen.plan_input.parameters
        assert (parameters["thread"], parameters["blank"]) == ("M27x3", "26.8 mm")


async def test_a_form_opened_without_a_job_can_start_a_run(make: MakeApp, paths: Paths) -> None:
    """F5 and one more key open the counter. The log then holds the run with its parameters."""
    async with opened(make, ThreadScreen(), lathe=METRIC) as (pilot, screen):
        await paste(pilot, "M27x3-6g")
        await press(pilot, "f5")
        assert isinstance(pilot.app.screen, StartPage)
        await press(pilot, "1")
        assert isinstance(pilot.app.screen, CounterScreen)
        state = pilot.app.screen.state
        assert state.origin is None and state.plan_input.parameters["thread"] == "M27x3-6g"
        await press(pilot, "0", "1")
        assert pilot.app.screen is screen
        await press(pilot, "escape")
        assert isinstance(pilot.app.screen, Under)
    with Logbook.open(paths.data) as book:
        assert [info.kind for info in book.runs()] == ["thread"]


async def test_an_operation_can_be_added_to_the_open_job(make: MakeApp, job_path: Path) -> None:
    """The file keeps every byte and gains one operation, which the open job then has."""
    before = job_path.read_bytes()
    async with opened(make, ThreadScreen(), job=job_path) as (pilot, screen):
        await paste(pilot, "M10")
        await press(pilot, "f4")
        await paste(pilot, "Turn the thread blank")
        await press(pilot, "enter")
        # The name of operation 1.
        assert isinstance(pilot.app.screen, Typed) and pilot.app.screen.query_one(QuantityField).error
        await press(pilot, "ctrl+u")
        await paste(pilot, "End thread")
        await press(pilot, "enter")
        job = app_of(pilot).context.job
        assert job is not None and job.operations[-1].name == screen.in_job == "End thread"
        await press(pilot, "escape")
        assert isinstance(pilot.app.screen, Under)
    after = job_path.read_bytes()
    assert after.startswith(before)
    added = tomllib.loads(after.decode())["operation"][-1]
    assert added == {"kind": "thread", "name": "End thread", "thread": "M10"}
    assert read_job(job_path).operations[-1].plan == job.operations[-1].plan


async def test_an_operation_can_be_saved_in_a_new_job_file(make: MakeApp, paths: Paths) -> None:
    """Title, file and name are asked. The file names the material and a copy of the lathe file in the same folder."""
    file = paths.documents / "a_5_disc.toml"
    async with opened(make, ThreadScreen(), lathe=INCH) as (pilot, _screen):
        await paste(pilot, "7/8-9 UNC")
        await fill(pilot, "material", "brass")
        await press(pilot, "f4")
        await paste(pilot, 'A 5" disc')
        await press(pilot, "enter")
        assert str(file)[-20:] in painted(pilot.app)
        await press(pilot, "enter", "enter")
        job = app_of(pilot).context.job
        assert job is not None and job.path == file
        assert app_of(pilot).context.lathe.name == "Nine-inch lathe"
        await press(pilot, "escape")
        assert isinstance(pilot.app.screen, Under)
    assert tomllib.loads(file.read_text()) == {
        "format": 1,
        "title": 'A 5" disc',
        "lathe": INCH.name,
        "material": "brass",
        "operation": [{"kind": "thread", "name": "Thread 7/8-9 UNC-2A", "thread": "7/8-9 UNC"}],
    }


async def test_entering_a_material_that_differs_from_the_jobs_material_asks_which_one_to_use(
    make: MakeApp, job_path: Path
) -> None:
    """A different material typed for one operation is not saved silently: the program asks which one is right."""
    async with opened(make, ThreadScreen(), job=job_path) as (pilot, screen):
        assert screen.material == "mild steel"
        await paste(pilot, "M10")
        await fill(pilot, "material", "brass")
        await press(pilot, "f4", "enter")
        assert isinstance(pilot.app.screen, YesNo)
        await press(pilot, "0")
    kept = read_job(job_path)
    assert (kept.material, kept.operations[-1].kind) == ("mild steel", "thread")


async def test_saving_an_operation_never_overwrites_an_unreadable_job_file(make: MakeApp, job_path: Path) -> None:
    """An unreadable file is not written. The fields keep their text, and Esc asks before closing."""
    async with opened(make, ThreadScreen(), job=job_path) as (pilot, screen):
        before = job_path.read_text()
        await paste(pilot, "M10")
        await press(pilot, "f4", "escape")
        assert job_path.read_text() == before
        broken = before + "[[operation\n"
        job_path.write_text(broken)
        await press(pilot, "f4", "enter")
        assert job_path.read_text() == broken
        assert pilot.app.screen is screen and screen.in_job == ""
        await press(pilot, "escape")
        assert isinstance(pilot.app.screen, YesNo)


async def test_closing_a_form_asks_for_confirmation_only_if_entries_would_be_lost(make: MakeApp) -> None:
    """Esc closes the form immediately if nothing was typed. Otherwise Esc asks, and No keeps the form open."""
    async with opened(make, ThreadScreen()) as (pilot, _screen):
        await press(pilot, "escape")
        assert isinstance(pilot.app.screen, Under)
        screen = ThreadScreen()
        pilot.app.push_screen(screen)
        await pilot.pause()
        await paste(pilot, "M1")
        await press(pilot, "escape")
        assert isinstance(pilot.app.screen, YesNo)
        await press(pilot, "0")
        assert pilot.app.screen is screen
        await press(pilot, "escape", "1")
        assert isinstance(pilot.app.screen, Under)


async def test_markup_in_job_and_lathe_files_is_shown_as_plain_text(make: MakeApp, tmp_path: Path) -> None:
    """Markup and control characters in names of lathe and job change nothing and reach no terminal."""
    quoted = json.dumps(HOSTILE.replace("\x9b", ""))
    lathe = tmp_path / "lathe.toml"
    lathe.write_text(METRIC.read_text().replace('name = "Metric bench lathe"', f"name = {quoted}"))
    job = tmp_path / "job.toml"
    job.write_text(
        f'format = 1\ntitle = {quoted}\nlathe = "lathe.toml"\nmaterial = {quoted}\n'
        '[[operation]]\nkind = "thread"\nname = "T"\nthread = "M10"\n'
    )
    async with opened(make, ThreadScreen({"thread": HOSTILE}), job=job, size=(120, 36)) as (pilot, _screen):
        await fill(pilot, "thread", "M10")
        shown = painted(pilot.app)
        assert "[bold]a[/" in shown
        assert not any(character in shown for character in "\x1b\x07\x9b\u202e")
