"""Set-up on screen, by keys: whole parts, the written lathe file, edits by hand, and continuing after a kill."""

import tomllib
from fractions import Fraction
from pathlib import Path

import pytest

from core.lathe.keys.entry import KIND
from core.lathe.reader import read_lathe
from core.lathe.set_up.chapters import chapters_of, cutter_chapter
from core.lathe.writer import write_lathe
from core.values.files import read_toml
from tests.conftest import MakeApp
from tests.tui.made_up import said
from tests.tui.painted import foreign, painted
from tests.tui.setup_keys import asked, chapter, keys, point_at, set_up, told
from tui.app import HalfnutApp
from tui.board.setup_offer import offer, setup_entry
from tui.glyphs import ASCII_SAFE, CONSOLE_SAFE, Charset
from tui.paths import Paths
from tui.setup.chapter import ChapterScreen
from tui.setup.dial_test import DialTestScreen
from tui.setup.lathes import LathesScreen
from tui.setup.measuring import MeasureScreen
from tui.setup.pictures import PICTURES
from tui.setup.screen import SetupScreen
from tui.terminal import Terminal
from tui.widgets.quantity_field import QuantityField
from tui.widgets.question import Typed, YesNo

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
MIXED = {
    "dial.cross_slide": ["1", "1", "=4", "enter", "=0.05", "enter", "2", "enter", "1", "1", "1", "=0.4", "enter"],
    "dial.compound": ["1", "2", "=40", "enter", "=1", "enter", "1", "=1", "enter", "1", "2", "2", "enter"],
    "dial.tailstock": ["3"],
    "dial.boring_head": [
        "1", "3", "=.05", "enter", "=.001", "enter", "2", "enter", "3",
        "3", "3", "enter", "=2000", "enter",
    ],
    "compound": ["1", "enter", "=60", "enter"],
    "thread_dial": ["1", "=14 15", "enter", "=2 3", "enter"],
    "rotary_table": [
        "1", "=72", "enter", "=2", "enter", "=10", "enter", "=15 16 / 21",
        "enter", "=24", "enter", "=3", "enter",
    ],
    "stock": ["=.9 1.35", "enter", "=.05 1", "enter"],
}  # fmt: skip
WRITTEN = {
    "format": 1,
    "name": "My lathe",
    "dial": {
        "cross_slide": {
            "per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter", "clockwise": "in", "numbers": "rise",
            "can_zero": True, "backlash": "0.4 mm",
        },
        "compound": {
            "per_turn": "40 thou", "graduation": "1 thou", "reads": "travel", "lead": "1 mm", "clockwise": "in",
            "numbers": "fall", "can_zero": False,
        },
        "boring_head": {"per_turn": "0.05 in", "graduation": "0.001 in", "reads": "diameter", "most_speed": "2000 rpm"},
    },
    "compound": {"scale_zero": "perpendicular", "scale_end": "60 deg"},
    "thread_dial": {"teeth": [14, 15], "lines": [2, 3]},
    "rotary_table": {
        "ratio": 72, "dial_graduation": "2 arcmin", "vernier": "10 arcsec", "plates": [[15, 16], [21]], "direct": [24],
        "backlash": "3 arcmin",
    },
    "stock": {"wires": ["0.9 mm", "1.35 mm"], "shims": ["0.05 mm", "1 mm"]},
}  # fmt: skip


async def test_answers_about_each_complete_part_of_a_lathe_are_written_to_its_file(make: MakeApp, paths: Paths) -> None:
    """The program uses the lathe immediately, and the list shows the answers."""
    # A small screen is painted faster. Another test checks every part in full.
    async with set_up(make, size=(40, 12)) as pilot:
        app = pilot.app
        assert isinstance(app, HalfnutApp) and app.context.lathe.example
        for name, pressed in MIXED.items():
            await chapter(pilot, name, *pressed)
        assert tomllib.loads(paths.own_lathe.read_text(encoding="utf-8")) == WRITTEN
        assert app.context.lathe == read_lathe(paths.own_lathe) and not app.context.lathe.example
        await pilot.resize_terminal(80, 24)
        await pilot.pause()
        assert " 0.05 in" in painted(app)


async def test_pressing_enter_at_every_question_of_set_up_changes_no_file(make: MakeApp, paths: Paths) -> None:
    """A file edited by hand stays as it is, and no other file appears next to it."""
    paths.config.mkdir(parents=True)
    paths.own_lathe.write_bytes((SAMPLES / "mixed_lathe.toml").read_bytes())
    before = paths.own_lathe.read_bytes()
    async with set_up(make) as pilot:
        for name in ("dial.compound", "compound", "spindle"):
            found = next(found for found in chapters_of(read_toml(paths.own_lathe)) if found.name == name)
            asked_of = found.asked(read_toml(paths.own_lathe).get(found.section[0], {}).get(found.dial, {}))
            await chapter(pilot, name, *["enter"] * (len(asked_of) if found.dial else 2), "f8")
    assert paths.own_lathe.read_bytes() == before
    assert [path.name for path in paths.config.glob("*.toml")] == ["lathe.toml"]


async def test_a_refused_answer_in_set_up_stays_in_its_field(make: MakeApp, paths: Paths) -> None:
    """The question stays open and the lathe file does not change. The rules are those of the lathe file."""
    async with set_up(make) as pilot:
        await keys(pilot, "down", "down", "enter", "1", "1", "=4 tenths", "enter")
        assert asked(pilot) == "per_turn" and said(pilot.app)
        await keys(pilot, "ctrl+u", "=4", "enter", "=0.3", "enter")
        assert asked(pilot) == "graduation" and said(pilot.app)
        await keys(pilot, "ctrl+u", "=0.02", "enter")
        assert asked(pilot) == "reads" and not said(pilot.app)
        await keys(pilot, "3", "f8")
        assert painted(pilot.app).count("! ") == 1
    assert not paths.own_lathe.exists()


async def test_pressing_esc_in_set_up_goes_back_one_question(make: MakeApp) -> None:
    """Earlier answers are shown and can be changed or deleted. From the first question, Esc returns to the list."""
    async with set_up(make) as pilot:
        await keys(pilot, "enter", "=Old", "enter", "=100", "enter", "escape")
        assert (asked(pilot), told(pilot)) == ("centre_height", "100 mm")
        await keys(pilot, "escape", "ctrl+u", "=New", "enter", "ctrl+u", "enter", "f8")
        assert isinstance(pilot.app, HalfnutApp) and pilot.app.context.lathe.name == "New"
        assert pilot.app.context.lathe.centre_height_mm is None
        await keys(pilot, "enter", "asterisk")
        assert isinstance(pilot.app.screen, SetupScreen)


async def test_answers_entered_in_set_up_are_kept_when_the_program_is_killed(make: MakeApp, paths: Paths) -> None:
    """Only the answer being typed is lost. The next start continues at its question."""
    async with set_up(make) as pilot:
        await keys(pilot, "down", "enter", "1", "2", "=100", "enter", "=1")
        # The program gets no chance to tidy up, so the file must already hold every answer.
    assert not paths.own_lathe.exists()
    async with set_up(make) as pilot:
        assert isinstance(pilot.app, HalfnutApp)
        assert said(pilot.app) and offer(pilot.app.context)
        await keys(pilot, "enter")
        assert (asked(pilot), told(pilot)) == ("graduation", "")
        assert isinstance(pilot.app.screen, ChapterScreen) and pilot.app.screen.unit == "thou"
        await keys(pilot, "=1", "enter", "1", "f8")
        assert offer(pilot.app.context) == ""
    assert read_lathe(paths.own_lathe).dials["cross_slide"].mark_mm == pytest.approx(0.0254)


async def test_set_up_does_not_overwrite_a_lathe_file_that_was_edited_by_hand(make: MakeApp, paths: Paths) -> None:
    """The answers go into a file next to it, and the program uses that file."""
    write_lathe(paths.own_lathe, read_toml(SAMPLES / "metric_lathe.toml"))
    changed = paths.own_lathe.read_text(encoding="utf-8") + "# mine\n"
    paths.own_lathe.write_text(changed, encoding="utf-8")
    async with set_up(make) as pilot:
        for jaw_lead in ("5", "6"):
            await chapter(pilot, "chuck", "ctrl+u", f"={jaw_lead}", "enter")
            assert isinstance(pilot.app, HalfnutApp)
            assert pilot.app.context.lathe.chuck.jaw_lead_mm == int(jaw_lead)
            assert paths.own_lathe.name in painted(pilot.app)
    assert (paths.config / "lathe.toml").read_text(encoding="utf-8") == changed
    assert paths.own_lathe.name == "lathe-2.toml"
    assert sorted(path.name for path in paths.config.glob("*.toml")) == ["lathe-2.toml", "lathe.toml"]


async def test_a_dial_can_be_set_up_from_measurements(make: MakeApp, paths: Paths) -> None:
    """Direction, true lead, marks and backlash are computed from the entries."""
    async with set_up(make) as pilot:
        await keys(pilot, "down", "enter", "1", "1", "=4", "enter", "f4", "=80", "enter")
        await keys(pilot, "4")
        assert isinstance(pilot.app.screen, MeasureScreen)
        await keys(pilot, "=30", "enter", "=.5", "enter", "=29.4", "enter", "f4", "enter", "=25", "enter")
        assert isinstance(pilot.app.screen, MeasureScreen)
        await keys(pilot, "ctrl+u", "=20.00", "enter", "1", "1", "1", "f4", "=.1", "enter", "=3.7", "enter")
        # The travel, the last question, is not answered.
        await keys(pilot, "enter")
    dial = read_lathe(paths.own_lathe).dials["cross_slide"]
    assert (dial.reads_diameter, dial.lead_mm, float(dial.graduation), float(dial.backlash)) == (True, None, 0.05, 0.4)


async def test_cancelling_the_measurement_of_the_leadscrew_changes_no_answer(make: MakeApp, paths: Paths) -> None:
    """Esc returns to the question. An error is shown next to its field."""
    async with set_up(make) as pilot:
        point_at(pilot, "leadscrew")
        await keys(pilot, "enter", "f4", "enter", "=30 deg")
        errors = [bool(field.error) for field in pilot.app.screen.query(QuantityField)]
        assert errors == [False, True]
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, MeasureScreen)
        await keys(pilot, "escape")
        assert (asked(pilot), told(pilot)) == ("pitch", "")
    assert not paths.own_lathe.exists()


async def test_the_dial_test_page_shows_how_far_a_dial_reading_moves_the_slide(make: MakeApp, paths: Paths) -> None:
    """21 thou on a 1 mm screw marked as 40 thou are 0.525 mm, by hand. A dial that cannot be zeroed is refused."""
    write_lathe(paths.own_lathe, read_toml(SAMPLES / "mixed_lathe.toml"))
    async with set_up(make) as pilot:
        await keys(pilot, "down", "down", "t")
        test = pilot.app.screen
        assert isinstance(test, DialTestScreen) and test.dial.name == "compound"
        shown = painted(pilot.app)
        assert "0.525 mm" in shown and " 21 " in shown and " 40 " in shown
        await keys(pilot, "ctrl+u", "=0.42 mm")
        assert test.query_one(QuantityField).error
        await keys(pilot, "enter")
        assert test.dial.name == "carriage" and " 2.1 mm" in painted(pilot.app)
        # One turn is 15 mm.
        await keys(pilot, "ctrl+u", "=17")
        assert "1 turn " in painted(pilot.app) and " 2.0 mm" in painted(pilot.app)
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, SetupScreen)


async def test_the_dial_test_page_opens_even_if_the_lathe_has_no_dial(make: MakeApp) -> None:
    """Every key of the page is harmless."""
    async with set_up(make) as pilot:
        await keys(pilot, "t")
        assert isinstance(pilot.app.screen, DialTestScreen)
        await keys(pilot, "pageup", "pagedown", "enter", "escape")
        assert isinstance(pilot.app.screen, SetupScreen)


async def test_f12_puts_a_converted_quantity_into_the_field_of_a_question_in_set_up(
    make: MakeApp, paths: Paths
) -> None:
    """The conversion page opens with the text of the question."""
    async with set_up(make) as pilot:
        point_at(pilot, "leadscrew")
        await keys(pilot, "enter", "=3.175", "f12")
        assert "3.175 mm" in painted(pilot.app)
        await keys(pilot, "enter", "enter")
        assert told(pilot).startswith("3.175 mm")
        await keys(pilot, "enter", "f8")
    assert read_lathe(paths.own_lathe).leadscrew_mm == Fraction("3.175")


async def test_a_dial_added_in_set_up_has_its_own_questions(make: MakeApp, paths: Paths) -> None:
    """A mill's readout x is one more part of set-up. An answer that deletes other answers asks first."""
    async with set_up(make) as pilot:
        await keys(pilot, "a", "=x", "enter", "2", "1", "=.005", "enter", "1", "1", "f8")
        point_at(pilot, "dial.x")
        await keys(pilot, "enter", "3")
        assert isinstance(pilot.app.screen, YesNo)
        await keys(pilot, "escape")
        assert asked(pilot) == KIND
        await keys(pilot, "f8", "a", "=x+y", "enter")
        assert isinstance(pilot.app.screen, Typed) and pilot.app.screen.query_one(QuantityField).error
    assert read_lathe(paths.own_lathe).dials["x"].per_turn is None


async def test_lathes_can_be_added_copied_imported_renamed_selected_and_exported_by_keys(
    make: MakeApp, paths: Paths, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each action is checked by the files in the folder."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "given.toml").write_bytes((SAMPLES / "inch_lathe.toml").read_bytes())
    async with set_up(make) as pilot:
        app = pilot.app
        assert isinstance(app, HalfnutApp)
        await keys(pilot, "l")
        assert isinstance(app.screen, LathesScreen) and app.screen.lathe is None
        await keys(pilot, "n", "1", "=First", "enter")
        assert (app.context.lathe.name, isinstance(app.screen, SetupScreen)) == ("First", True)
        await keys(pilot, "l", "n", "2", "=given.toml", "enter", "ctrl+u", "=Inch lathe", "enter", "0")
        assert app.context.lathe.name == "First"
        await chapter(pilot, "leadscrew", "ctrl+u", "=6 tpi", "enter")
        assert app.context.lathe.name == "First"
        await keys(pilot, "l", "u")
        assert (app.context.lathe.name, paths.own_lathe.name) == ("Inch lathe", "inch_lathe.toml")
        await keys(pilot, "r", "ctrl+u", "=Nine-inch", "enter")
        assert app.context.lathe.name == "Nine-inch"
        await keys(pilot, "x", "ctrl+u", "=out.toml", "enter")
        assert (paths.documents / "out.toml").read_bytes() == paths.own_lathe.read_bytes()
        await keys(pilot, "n", "3", "ctrl+u", "=Twin", "enter", "1")
        assert app.context.lathe.name == "Twin"
        await keys(pilot, "l")
        assert isinstance(app.screen, LathesScreen)
        assert app.screen.lathe is not None and app.screen.lathe.path == paths.own_lathe == paths.config / "twin.toml"
    assert (
        read_lathe(paths.config / "twin.toml").leadscrew_mm == read_lathe(paths.config / "inch_lathe.toml").leadscrew_mm
    )
    assert sorted(path.name for path in paths.config.glob("*.toml")) == ["inch_lathe.toml", "lathe.toml", "twin.toml"]


async def test_a_lathe_file_that_cannot_be_read_is_listed_but_cannot_be_used(make: MakeApp, paths: Paths) -> None:
    """The list says so, and shows the errors of the file."""
    write_lathe(paths.own_lathe, read_toml(SAMPLES / "metric_lathe.toml"))
    (paths.config / "bad.toml").write_text('format = 1\nname = "x"\nwheels = 3\n')
    async with set_up(make) as pilot:
        await keys(pilot, "l", "home")
        assert "bad.toml" in painted(pilot.app) and "wheels" not in painted(pilot.app)
        await keys(pilot, "u")
        assert "wheels" in painted(pilot.app)
        assert paths.own_lathe.name == "lathe.toml"


async def test_the_lathe_named_by_the_job_is_used_instead_of_the_lathe_chosen_in_set_up(
    make: MakeApp, paths: Paths, tmp_path: Path
) -> None:
    """Set-up says so. The same holds for a lathe named by --lathe."""
    for name in ("sundial_arbor.toml", "metric_lathe.toml"):
        (tmp_path / name).write_bytes((SAMPLES / name).read_bytes())
    async with set_up(make, job=tmp_path / "sundial_arbor.toml") as pilot:
        assert "(metric_lathe.toml)" in painted(pilot.app)
        await chapter(pilot, "leadscrew", "=2", "enter")
        assert isinstance(pilot.app, HalfnutApp)
        assert pilot.app.context.lathe.leadscrew_mm == 3
    async with set_up(make, lathe=tmp_path / "metric_lathe.toml") as pilot:
        assert "--lathe" in painted(pilot.app)
    assert read_lathe(paths.own_lathe).leadscrew_mm == 2


async def test_changing_the_lathe_plans_the_open_job_again_or_closes_a_job_that_cannot_be_cut(
    make: MakeApp, tmp_path: Path
) -> None:
    """A job without its own lathe is planned again. A job that this lathe cannot cut is closed with a message."""
    job = tmp_path / "job.toml"
    job.write_text(
        'format = 1\ntitle = "Gnomon"\n[[operation]]\nkind = "face"\nname = "Face"\ndial = "carriage"\n'
        'from = "0 mm"\nto = "1 mm"\ncut = "0.5 mm"\n'
    )
    async with set_up(make, job=job) as pilot:
        app = pilot.app
        assert isinstance(app, HalfnutApp)
        await chapter(pilot, "dial.carriage", "1", "1", "=10", "enter", "=.5", "enter", "1")
        assert app.context.job is not None and app.context.job.lathe == app.context.lathe
        assert app.context.job.operations[0].plan_input.lathe.dials["carriage"].mark_mm == 0.5
        await keys(pilot, "enter", "3", "1")
        assert app.context.job is None and said(app)


async def test_the_board_suggests_set_up_as_long_as_the_example_lathe_is_in_use(make: MakeApp) -> None:
    """With the example lathe, the board has a message and an entry. With a lathe, it has only the entry."""
    async with set_up(make) as pilot:
        app = pilot.app
        assert isinstance(app, HalfnutApp)
        assert offer(app.context)
        board = app.screen_stack[-2]
        assert setup_entry(board).name != "Mine"  # type: ignore[arg-type]
        await chapter(pilot, "", "=Mine", "enter")
        assert offer(app.context) == ""
        entry = setup_entry(board)  # type: ignore[arg-type]
        assert entry.name == "Mine"
        entry.act()
        await pilot.pause()
        assert isinstance(app.screen, SetupScreen)


@pytest.mark.parametrize(
    ("size", "charset", "names"),
    [((80, 24), "console", ("compound",)), ((40, 12), "ascii", ("dial.compound", "compound"))],
)
async def test_every_question_of_set_up_is_shown_in_full(
    make: MakeApp, size: tuple[int, int], charset: Charset, names: tuple[str, ...]
) -> None:
    """Questions and answers of whole parts use only characters that the terminal has."""
    safe = CONSOLE_SAFE if charset == "console" else ASCII_SAFE
    async with set_up(make, size=size, terminal=Terminal(charset=charset, dots="ascii")) as pilot:
        for name in names:
            point_at(pilot, name)
            await keys(pilot, "enter")
            screen = pilot.app.screen
            assert isinstance(screen, ChapterScreen)
            while screen.question is not None:
                assert foreign(pilot.app, safe) == set()
                shown = " ".join(painted(pilot.app).split())
                assert screen.question.asked in shown
                for option in screen.question.options:
                    assert option.words[: size[0] - 5] in shown
                await keys(pilot, "1" if screen.question.options else "enter")
            await keys(pilot, "f8")


def test_every_picture_named_by_a_question_of_set_up_exists_and_fits_its_space() -> None:
    """Pictures have at most 38 columns and 8 rows, in characters of the bare console."""
    questions = [question for found in (*chapters_of({}), cutter_chapter("fine")) for question in found.questions]
    named = {question.picture for question in questions if question.picture}
    named |= {option.picture for question in questions for option in question.options if option.picture}
    assert named == set(PICTURES)
    for lines in PICTURES.values():
        assert len(lines) <= 8
        assert max(map(len, lines)) <= 38
        assert set("".join(lines)) <= CONSOLE_SAFE
