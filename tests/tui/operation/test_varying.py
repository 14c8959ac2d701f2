"""The keys < and > change numbers of a form; Ctrl+Z and Ctrl+Y undo and redo changes."""

from pathlib import Path

from core.jobs.job import read_job
from tests.conftest import MakeApp
from tests.tui.made_up import opened, press, said
from tui.board.job_actions import screen_for
from tui.operation.divide import DivideScreen
from tui.operation.form import OperationForm
from tui.operation.holes import HolesScreen
from tui.operation.screen import OperationScreen
from tui.operation.varied_view import VariedView
from tui.operation.varying import MOST_STATES
from tui.pattern.screen import PatternScreen
from tui.widgets.pattern_sketch import PatternSketch

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
LATHE = SAMPLES / "mixed_lathe.toml"
"""Cross-slide 0.02 mm of travel, carriage 0.1 mm, boring head 0.001 in on the diameter."""
HOLES = {"count": 6, "circle": "64 mm"}


def text(screen: OperationScreen, key: str) -> str:
    """Return the text in a field."""
    return screen.query_one(OperationForm).entries[key][1].text


def go_to(screen: OperationScreen, key: str) -> None:
    """Put the cursor in a field."""
    screen.query_one(OperationForm).entries[key][1].focus()


async def test_the_less_than_and_greater_than_keys_change_a_size_by_one_mark_of_its_dial(make: MakeApp) -> None:
    """A diameter on a slide that reads travel changes by two graduations, and the plan is updated."""
    screen = screen_for("turn", {"from": "40", "to": "30", "cut": "0.5 mm"})
    assert screen is not None
    async with opened(make, screen, lathe=LATHE) as (pilot, _):
        go_to(screen, "to")
        await press(pilot, "greater_than_sign", "greater_than_sign", "less_than_sign")
        assert text(screen, "to") == "30.04" and screen.plan is not None
        assert screen.plan.figures["to_mm"] == 30.04
        go_to(screen, "cut")
        await press(pilot, "less_than_sign")
        assert text(screen, "cut") == "0.48 mm" and said(pilot.app)


async def test_the_less_than_and_greater_than_keys_leave_fits_and_empty_fields_unchanged(make: MakeApp) -> None:
    """A list, an empty field and a fit stay unchanged, and a message gives the reason. A text field accepts < and >."""
    screen = screen_for("turn", {"from": "40 mm", "to": "30 g6", "cut": "0.5 mm"})
    assert screen is not None
    async with opened(make, screen, lathe=LATHE) as (pilot, _):
        for key in ("to", "finish"):
            go_to(screen, key)
            before = text(screen, key)
            await press(pilot, "greater_than_sign")
            assert text(screen, key) == before and said(pilot.app)
        go_to(screen, "material")
        await press(pilot, *"a<b>")
        assert text(screen, "material") == "a<b>"


async def test_the_less_than_and_greater_than_keys_change_only_the_depth_at_the_cursor(make: MakeApp) -> None:
    """Of two depths, only the one at the cursor changes, and the cursor stays on that depth."""
    lid = SAMPLES / "sundial_lid.toml"
    table = read_job(lid).operations[0].plan_input.parameters
    async with opened(make, PatternScreen(table), job=lid) as (pilot, screen):
        go_to(screen, "depth")
        await press(pilot, "ctrl+u", *"0.6 mm, 0.3 mm")
        await press(pilot, "greater_than_sign")
        first, second = text(screen, "depth").split(", ")
        assert first == "0.6 mm" and float(second.removesuffix(" mm")) > 0.3
        await press(pilot, "home", "less_than_sign", "less_than_sign")
        assert text(screen, "depth").split(", ")[1] == second and screen.ready
        assert float(text(screen, "depth").split(" mm")[0]) < 0.6 and said(pilot.app)


async def test_several_changes_in_a_form_can_be_undone_and_redone(make: MakeApp) -> None:
    """Each key makes one state, and typing into one field makes one state. A new change drops the later states."""
    async with opened(make, HolesScreen(HOLES), lathe=LATHE) as (pilot, screen):
        assert not screen.has_before and not screen.has_after
        go_to(screen, "circle")
        await press(pilot, "end", *(["backspace"] * 5), *"70")
        go_to(screen, "count")
        await press(pilot, *["greater_than_sign"] * 3)
        assert (text(screen, "circle"), text(screen, "count")) == ("70", "9")
        await press(pilot, "ctrl+z", "ctrl+z", "ctrl+z")
        assert (text(screen, "circle"), text(screen, "count")) == ("70", "6")
        await press(pilot, "ctrl+z")
        assert text(screen, "circle") == "64 mm" and not screen.has_before and screen.has_after
        assert screen.plan_input.parameters["circle"] == "64 mm"
        await press(pilot, "ctrl+y", "ctrl+y")
        assert (text(screen, "circle"), text(screen, "count")) == ("70", "7")
        await press(pilot, "less_than_sign")
        assert not screen.has_after
        await press(pilot, *["greater_than_sign"] * (MOST_STATES + 3))
        assert text(screen, "count") == "19"
        await press(pilot, *["ctrl+z"] * (MOST_STATES + 3))
        assert text(screen, "count") == "9"


async def test_changing_a_choice_in_a_form_can_be_undone(make: MakeApp) -> None:
    """Changing a choice counts as a change."""
    async with opened(make, DivideScreen({"divisions": 24}), lathe=LATHE) as (pilot, screen):
        screen.query_one(OperationForm).choices["sense"][1].focus()
        await press(pilot, "right")
        assert screen.plan_input.parameters["sense"] == "falling"
        await press(pilot, "ctrl+z")
        assert "sense" not in screen.plan_input.parameters


async def test_the_whole_screen_picture_is_updated_each_time_a_key_changes_a_number(make: MakeApp) -> None:
    """At 80x24 the form has no room for the picture. The picture's own page shows the number and its keys."""
    for form, key in (
        (HolesScreen(HOLES), "circle"),
        (DivideScreen({"divisions": 24, "radius": "30 mm"}), "divisions"),
    ):
        async with opened(make, form, lathe=LATHE) as (pilot, screen):
            go_to(screen, key)
            await press(pilot, "f10")
            view = pilot.app.screen
            assert isinstance(view, VariedView)
            sketch = view.query_one(PatternSketch)
            before, was = sketch.pattern, text(screen, key)
            await press(pilot, "greater_than_sign")
            assert sketch.pattern != before and text(screen, key) != was
            assert sketch.pattern == screen.query_one(PatternSketch).pattern
            await press(pilot, "plus", "6", "ctrl+z")
            assert sketch.pattern == before and view.view.zoom > 1
            await press(pilot, "tab", "less_than_sign", "0")
            assert pilot.app.screen is screen and text(screen, key) == was and screen.has_before


async def test_changing_a_size_to_a_refused_value_clears_the_picture(make: MakeApp) -> None:
    """Holes on a circle of 0 mm cannot be drilled. Nothing is drawn, and the page gives the reason."""
    async with opened(make, HolesScreen({"count": 6, "circle": "0.1 mm"}), lathe=LATHE) as (pilot, screen):
        go_to(screen, "circle")
        await press(pilot, "f10", "less_than_sign")
        assert pilot.app.screen.query_one(PatternSketch).pattern is None and said(pilot.app)
        await press(pilot, "greater_than_sign")
        assert pilot.app.screen.query_one(PatternSketch).pattern is not None and screen.ready


async def test_undo_restores_the_layers_the_cutters_and_the_selected_layer_of_a_pattern(make: MakeApp) -> None:
    """A deleted layer returns. Selecting another layer does not count as a change."""
    lid = SAMPLES / "sundial_lid.toml"
    table = read_job(lid).operations[0].plan_input.parameters
    async with opened(make, PatternScreen(table), job=lid) as (pilot, screen):
        screen.query_one("#layers").focus()
        await press(pilot, "down")
        assert not screen.has_before
        await press(pilot, "x")
        assert len(screen.plan_input.parameters["layer"]) == 1
        await press(pilot, "ctrl+z")
        assert screen.plan_input.parameters == table and not screen.has_before
        go_to(screen, "circle_radius")
        # 3.9878 mm: 314 half thousandths of an inch, the mark below 4 mm.
        await press(pilot, "less_than_sign")
        layer = screen.plan_input.parameters["layer"][screen.query_one("PatternForm").at]  # type: ignore[attr-defined]
        radius_mm = float(layer["circle_radius"].split()[0])
        assert radius_mm < 6.5 and abs(radius_mm / 0.0127 - round(radius_mm / 0.0127)) < 0.01
