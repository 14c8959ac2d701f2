"""Errors of the set-up on the screen: keys draw them larger, correct them, and copy them from a runout check."""

import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from core.jobs.job import read_job
from core.logbook.logbook import Logbook
from core.operations.patterns.picture import ErrorsView
from core.run.runout_view import takes_reading
from tests.conftest import MakeApp
from tests.core.logbook.run_samples import StepClock
from tests.core.operations.dividing.rotary import pattern_keys
from tests.tui.made_up import fill, opened, press, said
from tests.tui.painted import foreign, painted
from tests.tui.runs_made import begin
from tui.glyphs import ASCII_SAFE
from tui.paths import Paths
from tui.pattern.form import PatternForm
from tui.pattern.screen import PatternScreen
from tui.terminal import Terminal
from tui.widgets.pattern_sketch import PatternSketch
from tui.widgets.pattern_view import PatternView

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
LATHE = SAMPLES / "metric_lathe.toml"
RING: dict[str, Any] = pattern_keys(
    {"count": 12, "offset": "20 mm", "circle_radius": "4 mm", "depth": "0.4 mm"}, tip_angle="90 deg"
)
CHECK = """\
format = 1
title = "Lid"
lathe = "{lathe}"
[[operation]]
kind = "runout"
name = "Rim"
surface = "bore"
positions = 8
readings = ["0.04 mm", "0.0283 mm", "0 mm", "-0.0283 mm", "-0.04 mm", "-0.0283 mm", "0 mm", "0.0283 mm"]
"""


def centres(sketch: PatternSketch) -> np.ndarray:
    """Return the centres of the drawn circles."""
    assert sketch.pattern is not None
    found: np.ndarray = np.array([complex(*cut.at_mm) for cut in sketch.pattern.cuts])
    return found


async def test_ctrl_e_enlarges_and_ctrl_n_corrects_the_errors_drawn_in_a_pattern(make: MakeApp) -> None:
    """Ctrl+E changes the factor.

    Ctrl+N corrects the height error, turning centres by (20, -k h); figures stay unchanged.
    """
    ring = np.exp(2j * np.pi * np.arange(12) / 12)
    async with opened(make, PatternScreen(RING), lathe=LATHE) as (pilot, screen):
        sketch = screen.query_one(PatternSketch)
        await press(pilot, "ctrl+e")
        assert said(pilot.app) and sketch.errors_view == ErrorsView()
        await fill(pilot, "height_error", "0.1 mm")
        assert np.allclose(centres(sketch), complex(20, -0.1) * ring)
        await press(pilot, "ctrl+e")
        factor = sketch.errors_view.factor
        assert factor > 1 and np.allclose(centres(sketch), complex(20, -0.1 * factor) * ring)
        await press(pilot, "ctrl+n")
        assert np.abs(centres(sketch) - 20 * ring).max() < 0.03
        await press(pilot, "f10")
        view = pilot.app.screen
        assert isinstance(view, PatternView) and view.query_one(PatternSketch).errors_view == (factor, True)
        await press(pilot, "7", "9", "3", "3", "1")
        assert view.query_one(PatternSketch).errors_view == (factor, False)
        await press(pilot, "9", "ctrl+n", "ctrl+n", "0")
        assert sketch.errors_view.factor > factor and not sketch.errors_view.corrected


async def test_an_eccentricity_without_a_direction_is_refused(make: MakeApp) -> None:
    """The empty direction is named, and no default is shown in its field. An eccentricity of 0 needs no direction."""
    async with opened(make, PatternScreen(RING), lathe=LATHE) as (pilot, screen):
        assert "Ctrl+E" not in painted(pilot.app)
        await fill(pilot, "eccentricity", "0 mm")
        assert screen.plan is not None
        await fill(pilot, "eccentricity", "0.05 mm")
        assert screen.plan is None and screen.problem_words == "Fill in: towards."
        await fill(pilot, "eccentric_at", "90 deg")
        assert screen.plan is not None and "Ctrl+E Errors" in painted(pilot.app)
        await fill(pilot, "eccentric_at", "90 kg")
        await press(pilot, "f6")
        assert "Correct the marked fields first." in painted(pilot.app)


async def test_a_position_error_entered_in_the_form_is_drawn_in_the_picture(make: MakeApp) -> None:
    """Position 3, half a degree too far, is drawn as x. The figures say that position 30 does not exist."""
    async with opened(make, PatternScreen(RING), lathe=LATHE) as (pilot, screen):
        sketch = screen.query_one(PatternSketch)
        await fill(pilot, "position_error", "30")
        await fill(pilot, "wrong_position", "3")
        assert np.isclose(centres(sketch)[2], 20 * np.exp(1j * np.radians(60.5)))
        await fill(pilot, "slide_error", "0.5 mm")
        assert np.isclose(centres(sketch)[2], 20.5 * np.exp(1j * np.radians(60.5)))
        assert sketch.pattern is not None and [cut.was_moved for cut in sketch.pattern.cuts].index(True) == 2
        await fill(pilot, "wrong_position", "30")
        assert screen.plan is not None
        rows = [figure for figure in screen.further_figures(screen.plan) if "Not drawn" in figure.value]
        assert len(rows) == 1 and "30" not in screen.plan_input.parameters


@pytest.mark.parametrize(
    ("key", "text"), [("position_error", "soon"), ("wrong_position", "-2"), ("slide_error", "9 kg")]
)
async def test_the_calculated_figures_name_an_assumed_error_that_cannot_be_read(
    make: MakeApp, key: str, text: str
) -> None:
    """The figures name the field and say what to enter. The rest is calculated as if the field was empty."""
    async with opened(make, PatternScreen(RING), lathe=LATHE) as (pilot, screen):
        await fill(pilot, "wrong_position", "2")
        await fill(pilot, key, text)
        assert screen.plan is not None
        rows = [figure for figure in screen.further_figures(screen.plan) if figure.value == "not used"]
        assert [row.name for row in rows] == [screen.query_one(PatternForm).label_of(key).strip()]
        assert rows[0].note


@pytest.mark.parametrize("way", ["1", "2"])
async def test_ctrl_t_copies_the_eccentricity_from_a_runout_check_in_the_job(
    make: MakeApp, tmp_path: Path, way: str
) -> None:
    """A bore that is high by 0.04 mm at 0 degrees lies towards 180 degrees, for both directions of rotation."""
    path = tmp_path / "lid.toml"
    path.write_text(CHECK.format(lathe=LATHE))
    async with opened(make, PatternScreen(RING), job=path) as (pilot, screen):
        await press(pilot, "ctrl+t", way)
        entries = screen.query_one(PatternForm).entries
        assert (entries["eccentricity"][1].text, entries["eccentric_at"][1].text) == ("0.04 mm", "180 deg")
        assert screen.entered.eccentricity_mm == pytest.approx(0.04)


async def test_ctrl_t_copies_the_eccentricity_from_a_runout_check_in_the_log(
    make: MakeApp, tmp_path: Path, paths: Paths
) -> None:
    """A rim high at reading 2 (90 deg) is at 90 deg on the work turned clockwise, and at 270 deg anticlockwise."""
    path = tmp_path / "lid.toml"
    path.write_text(CHECK.format(lathe=LATHE).partition("surface")[0] + "positions = 8\n")
    with Logbook.open(paths.data) as logbook:
        run = begin(logbook, read_job(path), "Rim", StepClock())
        for mark in range(8):
            while (step := run.state.cursor) is not None and not takes_reading(step):
                run.done()
            run.done(f"{0.05 * np.cos(np.pi / 4 * mark - np.pi / 2):.3f}", "mm")
        run.close()
    for way, angle in (("1", 90), ("2", 270)):
        async with opened(make, PatternScreen(RING), lathe=LATHE) as (pilot, screen):
            await press(pilot, "ctrl+t", way)
            assert screen.entered.eccentricity_mm == pytest.approx(0.05, abs=1e-3)
            assert screen.entered.eccentric_at_deg == pytest.approx(angle, abs=0.5)


async def test_pressing_ctrl_t_without_any_runout_check_shows_a_message(make: MakeApp) -> None:
    """Without a job and with an empty log, the key shows a sentence and changes nothing."""
    async with opened(make, PatternScreen(RING), lathe=LATHE) as (pilot, screen):
        await press(pilot, "ctrl+t")
        assert said(pilot.app) and "eccentricity" not in screen.plan_input.parameters


async def test_the_picture_page_names_the_factor_by_which_errors_are_enlarged(make: MakeApp) -> None:
    """On a bare console every character is plain. The sentence names the factor and both widths."""
    errors = {**RING, "face_runout": "0.05 mm", "face_high_at": "90 deg", "height_error": "0.1 mm"}
    terminal = Terminal(charset="ascii", dots="ascii", sixteen_colours=True)
    async with opened(make, PatternScreen(errors), lathe=LATHE, terminal=terminal) as (pilot, _):
        await press(pilot, "f10", "9")
        shown = painted(pilot.app)
        assert "enlarged" in shown and "0.7 to 0.8 mm wide" in " ".join(shown.split())
        assert not foreign(pilot.app, ASCII_SAFE)


async def test_a_saved_drawing_shows_the_errors_at_their_true_size(make: MakeApp, paths: Paths) -> None:
    """At factor 10 and more, a height error of 0.1 mm is saved as 0.1 mm, in the form and on the whole screen."""
    async with opened(make, PatternScreen({**RING, "height_error": "0.1 mm"}), lathe=LATHE) as (pilot, screen):
        await press(pilot, "ctrl+e")
        assert screen.query_one(PatternSketch).errors_view.factor > 1
        await press(pilot, "ctrl+d", "enter", "f10", "ctrl+d", "enter", "9", "ctrl+d", "enter")
    saved = sorted(paths.documents.glob("*.svg"))
    assert len(saved) == 3
    for file in saved:
        circles = ET.parse(file).getroot().findall(".//{*}circle")
        middles = np.array([complex(float(one.get("cx", 0)), float(one.get("cy", 0))) for one in circles])
        assert np.abs(middles - complex(20, 0.1)).min() < 0.02


async def test_a_form_with_refused_values_shows_no_pattern_on_the_picture_page(make: MakeApp) -> None:
    """The count is changed to a refused number while F10 is open. Then 9, 1 and 7 draw no pattern."""
    async with opened(make, PatternScreen({**RING, "height_error": "0.1 mm"}), lathe=LATHE) as (pilot, screen):
        await press(pilot, "f10")
        view = pilot.app.screen
        screen.query_one(PatternForm).entries["count"][1].text = "-3"
        screen.judge()
        assert screen.plan is None
        await press(pilot, "9", "1", "7")
        assert view.query_one(PatternSketch).pattern is None and screen.problem_words in painted(pilot.app)


async def test_a_runout_check_of_another_job_does_not_hide_the_check_of_the_open_job(
    make: MakeApp, tmp_path: Path, paths: Paths
) -> None:
    """Both jobs have a check "Rim". The open job's check comes first, and each line names its source."""
    own, other = tmp_path / "lid.toml", tmp_path / "other.toml"
    own.write_text(CHECK.format(lathe=LATHE))
    other.write_text(CHECK.format(lathe=LATHE).partition("surface")[0].replace("Lid", "Plate") + "positions = 8\n")
    with Logbook.open(paths.data) as logbook:
        run = begin(logbook, read_job(other), "Rim", StepClock())
        for mark in range(8):
            while (step := run.state.cursor) is not None and not takes_reading(step):
                run.done()
            run.done(f"{0.07 * np.cos(np.pi / 4 * mark):.3f}", "mm")
        run.close()
    async with opened(make, PatternScreen(RING), job=own) as (pilot, screen):
        await press(pilot, "ctrl+t")
        shown = " ".join(painted(pilot.app).split())
        assert "Rim (bore), in this job's file: eccentric by 0.04 mm" in shown and "Rim (outside), Plate, 20" in shown
        await press(pilot, "1", "1")
        assert screen.entered.eccentricity_mm == pytest.approx(0.04)


async def test_the_enlargement_of_drawn_errors_decreases_as_the_errors_grow(make: MakeApp) -> None:
    """At 0.005 mm, a factor of 1000 moves centres by 5 mm. At 2 mm it would move them by 2 m."""
    async with opened(make, PatternScreen({**RING, "height_error": "0.005 mm"}), lathe=LATHE) as (pilot, screen):
        sketch = screen.query_one(PatternSketch)
        sketch.errors_view = ErrorsView(factor=1000)
        screen.judge()
        assert sketch.errors_view.factor == 1000
        await press(pilot, "f10")
        screen.query_one(PatternForm).entries["height_error"][1].text = "2 mm"
        screen.judge()
        for shown in (sketch, pilot.app.screen.query_one(PatternSketch)):
            assert shown.errors_view.factor == 5
            assert np.abs(centres(shown) - 20 * np.exp(2j * np.pi * np.arange(12) / 12)).max() < 12.5
