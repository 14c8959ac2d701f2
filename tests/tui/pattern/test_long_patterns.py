"""Patterns with many positions are planned in a thread. Keys still work, and no outdated plan is shown."""

import threading
from pathlib import Path
from typing import Any

import pytest

from core.operations.patterns.steps import cuts_on
from core.operations.registry import PlanInput
from tests.conftest import MakeApp
from tests.core.operations.dividing.rotary import pattern_keys
from tests.core.planned import make_plan
from tests.tui.made_up import Begun, fill, opened, press
from tests.tui.painted import painted
from tui.pattern.screen import PatternScreen
from tui.widgets.pattern_sketch import PatternSketch
from tui.widgets.pattern_view import PatternView

LATHE = Path(__file__).parents[3] / "sample_jobs" / "mixed_lathe.toml"
MANY: dict[str, Any] = pattern_keys(
    {"shape": "dots", "count": 200, "offset": "30 mm", "depth": "0.5 mm"}, tip_angle="90 deg"
)


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> Begun:
    """Record the input of a started run without starting the run."""
    noted = Begun()
    monkeypatch.setattr("tui.runs.start_without_job", noted.begin)
    return noted


async def planned(pilot: Any, screen: PatternScreen) -> None:
    """Wait for the plan."""
    for _ in range(500):
        if not screen.is_planning:
            return
        await pilot.pause(0.02)
    raise AssertionError("never planned")


async def test_a_plan_made_in_a_worker_thread_equals_a_plan_made_directly(make: MakeApp) -> None:
    """No picture is shown before the plan is ready. Figures and steps equal those of direct planning."""
    form = PatternScreen(MANY)
    async with opened(make, form, lathe=LATHE, size=(120, 40)) as (pilot, _):
        await planned(pilot, form)
        assert form.plan == make_plan(PlanInput("pattern", form.plan_input.parameters, form.context.lathe))
        # Without a message loop in between, nothing of the thread can come in.
        form.query_one("PatternForm").entries["count"][1].text = "150"  # type: ignore[attr-defined]
        form.judge()
        assert form.plan is None and form.is_planning and not form.ready
        assert form.query_one(PatternSketch).pattern is None
        assert "200 dots" not in painted(pilot.app) or "150 dots" in painted(pilot.app)
        await planned(pilot, form)
        picture = form.query_one(PatternSketch).pattern
        assert picture is not None and len(picture.cuts) == 150
        assert form.plan is not None and len(form.plan.figures["elements"]) == 150


async def test_the_cuts_to_be_drawn_are_calculated_once_and_in_the_worker_thread(
    make: MakeApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Many positions are set in the thread, also for the enlarged picture. Few are set once for each change."""
    threads = []

    def noted(*arguments: Any) -> Any:
        threads.append(threading.current_thread())
        return cuts_on(*arguments)

    monkeypatch.setattr("core.operations.patterns.errors_drawn.cuts_on", noted)
    form = PatternScreen({**MANY, "height_error": "0.1 mm"})
    async with opened(make, form, lathe=LATHE) as (pilot, _):
        await planned(pilot, form)
        await press(pilot, "ctrl+e")
        assert form.query_one(PatternSketch).errors_view.factor > 1
        await fill(pilot, "count", "210")
        await planned(pilot, form)
        picture = form.query_one(PatternSketch).pattern
        assert picture is not None and len(picture.cuts) == 210
        assert threads and threading.main_thread() not in threads
        threads.clear()
        form.query_one("PatternForm").entries["count"][1].text = "12"  # type: ignore[attr-defined]
        form.judge()
        # Once without and once with the correction.
        assert len(threads) == 2


async def test_the_picture_page_includes_a_digit_typed_just_before_the_page_opens(make: MakeApp) -> None:
    """F10 immediately after a digit opens the page with that digit. The page says that a plan is made."""
    form = PatternScreen(MANY)
    async with opened(make, form, lathe=LATHE) as (pilot, _):
        await planned(pilot, form)
        await fill(pilot, "count", "140")
        await press(pilot, "f10")
        await planned(pilot, form)
        await pilot.pause(0.1)
        page = pilot.app.screen
        assert isinstance(page, PatternView)
        picture = page.query_one(PatternSketch).pattern
        assert picture is not None and len(picture.cuts) == 140
        form.query_one("PatternForm").entries["count"][1].text = "150"  # type: ignore[attr-defined]
        form.judge()
        assert form.is_planning and page.query_one(PatternSketch).pattern is None
        assert "planning the steps" in painted(pilot.app)
        await planned(pilot, form)
        picture = page.query_one(PatternSketch).pattern
        assert picture is not None and len(picture.cuts) == 150


async def test_only_the_plan_for_the_latest_change_is_shown(make: MakeApp) -> None:
    """Keys come faster than plans, and the plans for earlier keys are dropped."""
    form = PatternScreen(MANY)
    async with opened(make, form, lathe=LATHE) as (pilot, _):
        await fill(pilot, "count", "200")
        for _ in range(6):
            form.action_vary(1)
        await planned(pilot, form)
        assert form.plan is not None and len(form.plan.figures["elements"]) == 206
        # A pattern that is quick to plan is planned at once, and nothing comes after it.
        form.query_one("PatternForm").entries["count"][1].text = "180"  # type: ignore[attr-defined]
        form.judge()
        form.query_one("PatternForm").entries["count"][1].text = "12"  # type: ignore[attr-defined]
        form.judge()
        assert form.plan is not None and len(form.plan.figures["elements"]) == 12
        await pilot.pause(0.5)
        assert len(form.plan.figures["elements"]) == 12


async def test_starting_a_pattern_waits_for_the_plan_of_the_typed_numbers(make: MakeApp, begun: Begun) -> None:
    """F5 immediately after a digit starts the pattern with that digit. A change after F5 cancels the start."""
    form = PatternScreen(MANY)
    async with opened(make, form, lathe=LATHE) as (pilot, _):
        await planned(pilot, form)
        await fill(pilot, "count", "140")
        await press(pilot, "f5")
        await planned(pilot, form)
        await pilot.pause(0.1)
    assert [one.parameters["layer"][0]["count"] for one in begun] == [140]
