"""The page of kept patterns: pressed keys, written files and opened forms."""

import tomllib
from pathlib import Path

from core.jobs.kept_patterns import keep_pattern, kept_files
from tests.conftest import MakeApp
from tests.core.operations.dividing.rotary import pattern_keys
from tests.tui.made_up import opened, press, said
from tests.tui.painted import foreign, painted
from tui.board.screen import BoardScreen
from tui.glyphs import ASCII_SAFE
from tui.paths import Paths
from tui.pattern.kept_list import KeptList
from tui.pattern.kept_screen import FitScreen, KeptScreen
from tui.pattern.screen import PatternScreen
from tui.terminal import Terminal
from tui.widgets.message_line import MessageLine

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
LATHE, LID = SAMPLES / "mixed_lathe.toml", SAMPLES / "sundial_lid.toml"
RING = {
    **pattern_keys({"count": 12, "offset": "20 mm", "circle_radius": "8 mm", "depth": "0.5 mm"}, tip_angle="90 deg"),
    "blank_diameter": "80 mm",
}


async def test_a_pattern_can_be_kept_under_a_name_for_later_use(make: MakeApp, paths: Paths) -> None:
    """Ctrl+K, a and a name keep the pattern. A name that exists causes a question, and "no" keeps the old pattern."""
    async with opened(make, PatternScreen(RING), lathe=LATHE) as (pilot, screen):
        await press(pilot, "ctrl+k")
        assert isinstance(pilot.app.screen, KeptScreen) and not paths.patterns.exists()
        await press(pilot, "a", "ctrl+u", *"Ring", "enter")
        (file,) = kept_files(paths.patterns)
        data = tomllib.loads(file.read_text())
        assert data["title"] == "Ring" and data["operation"][0]["layer"] == screen.plan_input.parameters["layer"]
        await press(pilot, "a", "ctrl+u", *"Ring", "enter", "0")
        assert kept_files(paths.patterns) == [file] and said(pilot.app)
        await press(pilot, "x", "1")
        assert kept_files(paths.patterns) == []
        await press(pilot, "escape")
        assert pilot.app.screen is screen


async def test_the_page_of_kept_patterns_says_why_a_pattern_with_errors_cannot_be_kept(
    make: MakeApp, paths: Paths
) -> None:
    """The reason names the wrong fields. The key a repeats the reason and keeps nothing."""
    async with opened(make, PatternScreen({**RING, "blank_diameter": "80 kg"}), lathe=LATHE) as (pilot, screen):
        await press(pilot, "ctrl+k")
        assert screen.problem_words in pilot.app.screen.query_one(MessageLine).sentence
        await press(pilot, "escape", "ctrl+k", "a")
        assert (
            isinstance(pilot.app.screen, KeptScreen)
            and screen.problem_words in pilot.app.screen.query_one(MessageLine).sentence
        )
        assert not paths.patterns.exists()


async def test_a_kept_pattern_can_be_renamed(make: MakeApp, paths: Paths) -> None:
    """The question offers the present name. The renamed pattern stays selected. A name in use is refused."""
    for name in ("Base", "Ring"):
        keep_pattern(paths.patterns, name, RING)
    async with make(lathe=LATHE).run_test(size=(80, 24)) as pilot:
        await press(pilot, "a", "end", "enter", "down", "r", "end", "2", "enter")
        assert [file.name for file in kept_files(paths.patterns)] == ["base.toml", "ring2.toml"]
        kept = pilot.app.screen.query_one(KeptList).kept
        assert kept is not None and kept.name == "Ring2" and "is now called" in painted(pilot.app)
        await press(pilot, "r", "ctrl+u", *"Base", "enter")
        assert "already exists" in painted(pilot.app) and len(kept_files(paths.patterns)) == 2


async def test_a_kept_pattern_can_be_opened_for_a_blank_of_another_diameter(make: MakeApp, paths: Paths) -> None:
    """At each key press the page says which cuts miss the blank. The form gets the entered blank."""
    keep_pattern(paths.patterns, "Ring", RING)
    async with make(lathe=LATHE).run_test(size=(80, 24)) as pilot:
        assert isinstance(pilot.app.screen, BoardScreen)
        await press(pilot, "a", "end", "enter", "enter")
        assert isinstance(pilot.app.screen, FitScreen)
        whole = painted(pilot.app)
        await press(pilot, "5", "2")
        # The grooves end at 20 + 8 + 0.5 mm; the blank has a radius of 26 mm.
        assert "2.5 mm" in painted(pilot.app) and "2.5 mm" not in whole
        await press(pilot, "enter")
        form = pilot.app.screen
        assert isinstance(form, PatternScreen) and form.plan is not None
        assert form.plan_input.parameters["blank_diameter"] == "52 mm"
        assert form.plan_input.parameters["layer"] == RING["layer"]
        await press(pilot, "escape")
        assert isinstance(pilot.app.screen, BoardScreen)


async def test_an_unreadable_blank_diameter_for_a_kept_pattern_is_refused(make: MakeApp, paths: Paths) -> None:
    """The field says what is wrong."""
    keep_pattern(paths.patterns, "Ring", RING)
    async with make(lathe=LATHE).run_test(size=(80, 24)) as pilot:
        await press(pilot, "a", "end", "enter", "enter", *"-x", "enter")
        assert isinstance(pilot.app.screen, FitScreen) and said(pilot.app)


async def test_the_list_of_kept_patterns_reads_only_the_files_of_visible_rows(make: MakeApp, paths: Paths) -> None:
    """Of 300 files a screen of 24 rows reads a few. Damaged files are listed and cannot be opened."""
    file = keep_pattern(paths.patterns, "Ring", RING)
    for number in range(300):
        (paths.patterns / f"ring_{number:03}.toml").write_bytes(file.read_bytes())
    (paths.patterns / "a_broken.toml").write_bytes(b"\0" * 40)
    async with make(lathe=LATHE).run_test(size=(80, 24)) as pilot:
        await press(pilot, "a", "end", "enter")
        kept = pilot.app.screen.query_one(KeptList)
        painted(pilot.app)
        assert kept.count == 302 and 0 < len(kept._known) <= 4
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, KeptScreen) and said(pilot.app)
        await press(pilot, "end", "up")
        painted(pilot.app)
        assert kept.cursor == 300 and len(kept._known) <= 12


async def test_pictures_of_kept_patterns_use_only_characters_that_the_terminal_can_show(
    make: MakeApp, paths: Paths
) -> None:
    """On a bare console circles consist of plain characters, elsewhere of dots. A name is shown literally."""
    keep_pattern(paths.patterns, "[bold]Ring\x1b", RING)
    for terminal, sign in ((Terminal(charset="ascii", dots="ascii"), "*"), (Terminal(), "⠄")):
        async with make(lathe=LATHE, terminal=terminal).run_test(size=(80, 24)) as pilot:
            await press(pilot, "a", "end", "enter")
            shown = painted(pilot.app)
            assert shown.count(sign) >= 1 and "[bold]Ring" in shown
            if terminal.dots == "ascii":
                assert foreign(pilot.app, ASCII_SAFE) == set()


async def test_a_kept_pattern_can_be_checked_against_another_lathe(make: MakeApp, paths: Paths) -> None:
    """Plates with 21 or 49 holes divide by seven exactly; a dial does not. The opened form uses the lathe in use."""
    sevenths = {**RING, "layer": [{**RING["layer"][0], "count": 7}]}
    keep_pattern(paths.patterns, "Sevenths", sevenths)
    paths.config.mkdir(parents=True)
    with_plates = (
        LATHE.read_text()
        .replace('dial_graduation = "1 arcmin"', "plates = [[21, 49]]")
        .replace(" inch head", " plates")
    )
    (paths.config / "plates.toml").write_text(with_plates)
    async with make(lathe=LATHE).run_test(size=(80, 24)) as pilot:
        await press(pilot, "a", "end", "enter", "enter")
        assert "every position is exact" not in painted(pilot.app)
        await press(pilot, "down", "right")
        assert "By a plate: every position is exact" in painted(pilot.app)
        await press(pilot, "enter")
        form = pilot.app.screen
        assert isinstance(form, PatternScreen) and form.plan_input.lathe.name.endswith("inch head")
