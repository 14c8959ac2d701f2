"""Set-up on screen: whole chapters by keys, what is written, what a hand changed, killed and taken up again."""

import tomllib
from fractions import Fraction
from pathlib import Path

import pytest

from core.files import read_toml
from core.lathe_file import read_lathe
from core.lathe_writer import write_lathe
from core.setup.chapters import chapters_of
from tests.conftest import MakeApp
from tests.tui.painted import foreign, painted
from tests.tui.setup_keys import chapter, keys, set_up
from tui.app import HalfnutApp
from tui.glyphs import ASCII_SAFE, CONSOLE_SAFE, Charset
from tui.paths import Paths
from tui.screens.setup import SetupScreen
from tui.screens.setup_chapter import ChapterScreen
from tui.screens.setup_dial_test import DialTestScreen
from tui.screens.setup_entry import offer, setup_entry
from tui.screens.setup_finding import FindingScreen
from tui.screens.setup_lathes import LathesScreen
from tui.terminal import Terminal
from tui.widgets.line_list import LineList
from tui.widgets.setup_pictures import PICTURES

SAMPLES = Path(__file__).parents[2] / "sample_jobs"
MIXED = {
    "Cross-slide": ["1", "1", "=4", "enter", "=0.05", "enter", "2", "enter", "1", "1", "1", "=0.4", "enter"],
    "Compound": ["1", "2", "=40", "enter", "=1", "enter", "1", "=1", "enter", "1", "2", "2", "enter"],
    "Tailstock": ["3"],
    "Cutter head": [
        "1", "3", "=.05", "enter", "=.001", "enter", "2", "enter", "3",
        "3", "3", "enter", "=2000", "enter",
    ],
    "Compound's scale": ["1", "enter", "=60", "enter"],
    "Chasing dial": ["1", "=14 15", "enter", "=2 3", "enter"],
    "Rotary table": [
        "1", "=72", "enter", "=2", "enter", "=10", "enter", "=15 16 / 21",
        "enter", "=24", "enter", "=3", "enter",
    ],
    "Drawer": ["=.9 1.35", "enter", "=.05 1", "enter"],
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
        "cutter_head": {"per_turn": "0.05 in", "graduation": "0.001 in", "reads": "diameter", "most_speed": "2000 rpm"},
    },
    "compound": {"scale_zero": "perpendicular", "scale_end": "60 deg"},
    "chasing_dial": {"teeth": [14, 15], "lines": [2, 3]},
    "rotary_table": {
        "ratio": 72, "dial_graduation": "2 arcmin", "vernier": "10 arcsec", "plates": [[15, 16], [21]], "direct": [24],
        "backlash": "3 arcmin",
    },
    "stock": {"wires": ["0.9 mm", "1.35 mm"], "packing": ["0.05 mm", "1 mm"]},
}  # fmt: skip


async def test_a_mixed_lathe_by_keys(make: MakeApp, paths: Paths) -> None:
    """Whole chapters answered: the file holds them, the program follows at once, the list says what is told."""
    # A small screen is painted faster; each chapter is looked at in full elsewhere.
    async with set_up(make, size=(40, 12)) as pilot:
        assert "a stand-in lathe counts" in " ".join(painted(pilot.app).split())
        for title, pressed in MIXED.items():
            await chapter(pilot, title, *pressed)
        app = pilot.app
        assert isinstance(app, HalfnutApp)
        assert tomllib.loads(paths.own_lathe.read_text(encoding="utf-8")) == WRITTEN
        assert app.lathe == read_lathe(paths.own_lathe)
        await pilot.resize_terminal(80, 24)
        await pilot.pause()
        shown = painted(app)
        assert "■ Cutter head         one turn 0.05 in, marks 0.001 in, diameter" in shown
        assert "■ Tailstock           none" in shown
        assert "Set-up: My lathe" in shown and "which counts" in shown


async def test_going_through_without_a_change_changes_nothing(make: MakeApp, paths: Paths) -> None:
    """Enter through what is told, the odd dials among it: a file of a hand stays as it is, with none beside it."""
    paths.config.mkdir(parents=True)
    paths.own_lathe.write_bytes((SAMPLES / "mixed_lathe.toml").read_bytes())
    before = paths.own_lathe.read_bytes()
    async with set_up(make) as pilot:
        for title in ("Compound", "Compound's scale", "Spindle and speeds"):
            found = next(found for found in chapters_of(read_toml(paths.own_lathe)) if found.title == title)
            asked = found.asked(read_toml(paths.own_lathe).get(found.section[0], {}).get(found.dial, {}))
            await chapter(pilot, title, *["enter"] * (len(asked) if found.dial else 2), "f8")
    assert paths.own_lathe.read_bytes() == before
    assert [path.name for path in paths.config.glob("*.toml")] == ["lathe.toml"]


async def test_a_bad_answer_stays_and_says_why(make: MakeApp, paths: Paths) -> None:
    """What a lathe file would be refused for is refused here, in its words; the question stays."""
    async with set_up(make) as pilot:
        await keys(pilot, "down", "down", "enter", "1", "1", "=4 tenths", "enter")
        assert '"tenths" is 0.1 mm in some shops' in painted(pilot.app)
        assert "3 of 10" in painted(pilot.app)
        await keys(pilot, "ctrl+u", "=4", "enter", "=0.3", "enter")
        assert "does not go a whole number of times" in " ".join(painted(pilot.app).split())
        await keys(pilot, "ctrl+u", "=0.02", "enter")
        assert "5 of 10" in painted(pilot.app)
        await keys(pilot, "3", "f8")
        assert "! Compound            not answered: Do the numbers on the compound count" in painted(pilot.app)
    assert not paths.own_lathe.exists()


async def test_escape_goes_back_one_question(make: MakeApp) -> None:
    """And from the first one to the list; what was answered stands there again, and can be changed or emptied."""
    async with set_up(make) as pilot:
        await keys(pilot, "enter", "=Old", "enter", "=100", "enter", "escape")
        assert "[100 mm" in painted(pilot.app)
        await keys(pilot, "escape", "ctrl+u", "=New", "enter", "ctrl+u", "enter", "f8")
        assert "■ The lathe           New\n" in painted(pilot.app)
        await keys(pilot, "enter", "asterisk")
        assert isinstance(pilot.app.screen, SetupScreen)


async def test_killed_in_mid_question(make: MakeApp, paths: Paths) -> None:
    """A program that ends without a word has every answer but the one being typed; the next one goes on there."""
    async with set_up(make) as pilot:
        await keys(pilot, "down", "enter", "1", "2", "=100", "enter", "=1")
        # Nothing is left in order: the file has to hold what was answered already.
    assert not paths.own_lathe.exists()
    async with set_up(make) as pilot:
        assert "Answers of the last time" in painted(pilot.app)
        assert isinstance(pilot.app, HalfnutApp)
        assert "wait in set-up" in offer(pilot.app)
        await keys(pilot, "enter")
        assert "4 of 10" in painted(pilot.app) and "] thou" in painted(pilot.app)
        await keys(pilot, "=1", "enter", "1", "f8")
        assert offer(pilot.app) == ""
    assert read_lathe(paths.own_lathe).dials["cross_slide"].mark_mm == pytest.approx(0.0254)


async def test_a_hand_changed_file_stays_and_it_is_said(make: MakeApp, paths: Paths) -> None:
    """The answers go beside it, on screen that is said, and the program uses them."""
    write_lathe(paths.own_lathe, read_toml(SAMPLES / "metric_lathe.toml"))
    changed = paths.own_lathe.read_text(encoding="utf-8") + "# mine\n"
    paths.own_lathe.write_text(changed, encoding="utf-8")
    async with set_up(make) as pilot:
        await chapter(pilot, "Chucks", "ctrl+u", "=5", "enter")
        shown = " ".join(painted(pilot.app).split())
        assert "was changed by hand and stays as it is" in shown
        assert isinstance(pilot.app, HalfnutApp)
        assert pilot.app.lathe.chuck.jaw_lead_mm == 5
        await chapter(pilot, "Chucks", "ctrl+u", "=6", "enter")
        assert "stays as it is" in " ".join(painted(pilot.app).split())
    assert (paths.config / "lathe.toml").read_text(encoding="utf-8") == changed
    assert paths.own_lathe.name == "lathe-2.toml"
    assert sorted(path.name for path in paths.config.glob("*.toml")) == ["lathe-2.toml", "lathe.toml"]


async def test_measuring_in_place_of_knowing(make: MakeApp, paths: Paths) -> None:
    """Sense, truth, marks and play of a dial are worked out from what is typed."""
    async with set_up(make) as pilot:
        await keys(pilot, "down", "enter", "1", "1", "=4", "enter", "f4", "=80", "enter")
        await keys(pilot, "4")
        assert isinstance(pilot.app.screen, FindingScreen)
        await keys(pilot, "=30", "enter", "=.5", "enter", "=29.4")
        assert "its numbers are diameter" in painted(pilot.app)
        await keys(pilot, "enter", "f4", "enter", "=25", "enter")
        assert isinstance(pilot.app.screen, FindingScreen)
        await keys(pilot, "ctrl+u", "=20.00", "enter", "1", "1", "1", "f4", "=.1", "enter", "=3.7", "enter")
    dial = read_lathe(paths.own_lathe).dials["cross_slide"]
    assert (dial.reads_diameter, dial.lead_mm, float(dial.graduation), float(dial.backlash)) == (True, None, 0.05, 0.4)


async def test_giving_up_a_measurement_changes_nothing(make: MakeApp) -> None:
    """Esc goes back to the question; what is wrong is said beside its field."""
    async with set_up(make) as pilot:
        await keys(pilot, *["down"] * 7, "enter", "f4", "enter", "=30 deg")
        assert "is no length but an angle" in " ".join(painted(pilot.app).split())
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, FindingScreen)
        await keys(pilot, "escape")
        assert "1 of 1" in painted(pilot.app)
        assert "such as 3 mm or 8 tpi" in painted(pilot.app)


async def test_dial_test(make: MakeApp, paths: Paths) -> None:
    """What each dial believes, by hand: 21 thou of a 1 mm screw marked 40 are 0.525 mm; a pinned reading is refused."""
    write_lathe(paths.own_lathe, read_toml(SAMPLES / "mixed_lathe.toml"))
    async with set_up(make) as pilot:
        await keys(pilot, "down", "down", "t")
        assert isinstance(pilot.app.screen, DialTestScreen)
        assert "The slide goes 0.020669 in (0.525 mm) in" in painted(pilot.app)
        assert "mark 21 of the 40 in a turn" in painted(pilot.app)
        await keys(pilot, "ctrl+u", "=0.42 mm")
        assert "is engraved in inches" in painted(pilot.app)
        await keys(pilot, "enter")
        assert "The saddle shows 2.1 mm" in painted(pilot.app)
        await keys(pilot, "ctrl+u", "=17")
        assert "1 turn and 2.0 mm" in painted(pilot.app)
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, SetupScreen)


async def test_a_dial_test_without_a_dial(make: MakeApp) -> None:
    """Nothing is told yet: it says so, and every key of it is harmless."""
    async with set_up(make) as pilot:
        await keys(pilot, "t")
        assert "No dial is told yet" in painted(pilot.app)
        await keys(pilot, "pageup", "pagedown", "enter", "escape")
        assert isinstance(pilot.app.screen, SetupScreen)


async def test_the_conversion_answers_a_question(make: MakeApp, paths: Paths) -> None:
    """F12 out of a question takes its text along; what is chosen there stands in the field."""
    async with set_up(make) as pilot:
        await keys(pilot, *["down"] * 7, "enter", "=3.175", "f12")
        assert "Convert: 3.175 mm" in painted(pilot.app)
        await keys(pilot, "enter", "enter")
        assert "[3.175 mm" in painted(pilot.app)
        await keys(pilot, "enter", "f8")
    assert read_lathe(paths.own_lathe).leadscrew_mm == Fraction("3.175")


async def test_a_dial_of_another_name(make: MakeApp, paths: Paths) -> None:
    """A mill's readout x gets a chapter of its own."""
    async with set_up(make) as pilot:
        await keys(pilot, "a", "=x", "enter", "2", "1", "=.005", "enter", "1", "1", "f8")
        assert "■ X                   readout, marks 0.005 mm, travel" in painted(pilot.app)
        await keys(pilot, "enter", "3")
        assert "leaves out what is told already" in painted(pilot.app) and "marks 0.005 mm" in painted(pilot.app)
        await keys(pilot, "escape")
        assert "What shows where the x stands?" in painted(pilot.app)
        await keys(pilot, "f8", "a", "=x+y", "enter")
        assert "accepted are letters" in " ".join(painted(pilot.app).split())
    assert read_lathe(paths.own_lathe).dials["x"].per_turn is None


async def test_several_lathes(make: MakeApp, paths: Paths, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A new one, a copy, one from a file, another name, the choice, and a copy outside."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "given.toml").write_bytes((SAMPLES / "inch_lathe.toml").read_bytes())
    async with set_up(make) as pilot:
        app = pilot.app
        assert isinstance(app, HalfnutApp)
        await keys(pilot, "l")
        assert "No lathe is kept yet" in painted(app)
        await keys(pilot, "n", "1", "=First", "enter")
        assert (app.lathe.name, isinstance(app.screen, SetupScreen)) == ("First", True)
        await keys(pilot, "l", "n", "2", "=given.toml", "enter", "ctrl+u", "=Inch lathe", "enter", "0")
        assert app.lathe.name == "First"
        assert "Set-up: Inch lathe" in painted(app) and "does not count now" in painted(app)
        await chapter(pilot, "Leadscrew", "ctrl+u", "=6 tpi", "enter")
        assert app.lathe.name == "First"
        await keys(pilot, "l", "u")
        assert (app.lathe.name, paths.own_lathe.name) == ("Inch lathe", "inch_lathe.toml")
        await keys(pilot, "r", "ctrl+u", "=Nine-inch", "enter")
        assert app.lathe.name == "Nine-inch"
        await keys(pilot, "x", "ctrl+u", "=out.toml", "enter")
        assert (tmp_path / "out.toml").read_bytes() == paths.own_lathe.read_bytes()
        await keys(pilot, "n", "3", "ctrl+u", "=Twin", "enter", "1")
        assert app.lathe.name == "Twin"
        await keys(pilot, "l")
        assert isinstance(app.screen, LathesScreen)
        assert "■ Twin  (twin.toml: counts)" in painted(app)
    assert (
        read_lathe(paths.config / "twin.toml").leadscrew_mm == read_lathe(paths.config / "inch_lathe.toml").leadscrew_mm
    )
    assert sorted(path.name for path in paths.config.glob("*.toml")) == ["inch_lathe.toml", "lathe.toml", "twin.toml"]


async def test_a_lathe_that_cannot_be_read(make: MakeApp, paths: Paths) -> None:
    """It is listed as such, not used; its errors are shown."""
    write_lathe(paths.own_lathe, read_toml(SAMPLES / "metric_lathe.toml"))
    (paths.config / "bad.toml").write_text('format = 1\nname = "x"\nwheels = 3\n')
    async with set_up(make) as pilot:
        await keys(pilot, "l", "home")
        assert "bad.toml  (bad.toml: cannot be read)" in painted(pilot.app)
        await keys(pilot, "u")
        assert "wheels: is not known here" in " ".join(painted(pilot.app).split())
        assert paths.own_lathe.name == "lathe.toml"


async def test_the_jobs_own_lathe_wins_and_it_is_said(make: MakeApp, paths: Paths, tmp_path: Path) -> None:
    """Set-up says so, and the job keeps its lathe; --lathe likewise."""
    for name in ("sundial_arbor.toml", "metric_lathe.toml"):
        (tmp_path / name).write_bytes((SAMPLES / name).read_bytes())
    async with set_up(make, job=tmp_path / "sundial_arbor.toml") as pilot:
        assert "names its own lathe (metric_lathe.toml)" in painted(pilot.app)
        await chapter(pilot, "Leadscrew", "=2", "enter")
        assert isinstance(pilot.app, HalfnutApp)
        assert pilot.app.lathe.leadscrew_mm == 3
    async with set_up(make, lathe=tmp_path / "metric_lathe.toml") as pilot:
        assert "--lathe" in painted(pilot.app)
    assert read_lathe(paths.own_lathe).leadscrew_mm == 2


async def test_the_open_job_follows_the_lathe(make: MakeApp, tmp_path: Path) -> None:
    """A job without a lathe of its own is planned anew; one that this lathe cannot make is closed, and it is said."""
    job = tmp_path / "job.toml"
    job.write_text(
        'format = 1\ntitle = "Gnomon"\n[[operation]]\nkind = "cut"\nname = "Face"\ndial = "saddle"\n'
        'from = "0 mm"\nto = "1 mm"\ncut = "0.5 mm"\n'
    )
    async with set_up(make, job=job) as pilot:
        app = pilot.app
        assert isinstance(app, HalfnutApp)
        await chapter(pilot, "Saddle", "1", "1", "=10", "enter", "=.5", "enter", "1")
        assert app.job is not None and app.job.lathe == app.lathe
        assert app.job.operations[0].basis.lathe.dials["saddle"].mark_mm == 0.5
        await keys(pilot, "enter", "3", "1")
        assert "Not in the file yet" not in painted(app)
        assert app.job is None
        assert "cannot be planned on this lathe and was closed" in " ".join(painted(app).split())


async def test_the_offer_at_first(make: MakeApp) -> None:
    """Where only the stand-in counts the board has a sentence and a line that lead here; with a lathe a line."""
    async with set_up(make) as pilot:
        app = pilot.app
        assert isinstance(app, HalfnutApp)
        assert "key l" in offer(app)
        board = app.screen_stack[-2]
        assert setup_entry(board).name == "your own"  # type: ignore[arg-type]
        await chapter(pilot, "The lathe", "=Mine", "enter")
        assert offer(app) == ""
        entry = setup_entry(board)  # type: ignore[arg-type]
        assert entry.name == "Mine"
        entry.act()
        await pilot.pause()
        assert isinstance(app.screen, SetupScreen)


@pytest.mark.parametrize(("size", "charset"), [((80, 24), "console"), ((40, 12), "ascii")])
async def test_every_question_can_be_read(make: MakeApp, size: tuple[int, int], charset: Charset) -> None:
    """Question and answers of whole chapters stand in sight; nothing is painted that the terminal lacks."""
    safe = CONSOLE_SAFE if charset == "console" else ASCII_SAFE
    async with set_up(make, size=size, terminal=Terminal(charset=charset, dots="ascii")) as pilot:
        for title in ("Compound", "Compound's scale"):
            screen = pilot.app.screen
            assert isinstance(screen, SetupScreen)
            screen.query_one("#chapters", LineList).cursor = [found.title for found in screen._chapters].index(title)
            await keys(pilot, "enter")
            asked = pilot.app.screen
            assert isinstance(asked, ChapterScreen)
            while asked.question is not None:
                assert foreign(pilot.app, safe) == set()
                shown = " ".join(painted(pilot.app).split())
                assert asked.question.asked in shown
                for option in asked.question.options:
                    assert option.words[: size[0] - 5] in shown
                await keys(pilot, "1" if asked.question.options else "enter")
            await keys(pilot, "f8")


def test_pictures_fit_and_are_there() -> None:
    """Every picture that a question names is drawn, within 38 columns and 8 rows, in characters of the bare console."""
    named = {question.picture for found in chapters_of({}) for question in found.questions if question.picture}
    named |= {o.picture for found in chapters_of({}) for q in found.questions for o in q.options if o.picture}
    assert named == set(PICTURES)
    for lines in PICTURES.values():
        assert len(lines) <= 8
        assert max(map(len, lines)) <= 38
        assert set("".join(lines)) <= CONSOLE_SAFE
