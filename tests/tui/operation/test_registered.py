"""A kind of operation that exists only in the registry works on every screen, and each key gives an answer."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from core.cutting import Progress
from core.events.state import LoggedPlanInput
from core.inputs import Moved, RunInput, nothing_planned_from
from core.lathe.lathe import Lathe
from core.lathe.reader import example_lathe
from core.operations.operation import Operation
from core.operations.registry import OPERATIONS, Kind, PlanInput, kind_of, replan
from core.plan import Plan, Step, StepCount, numbered
from core.run.revising import logged_plan_input
from core.values.dials import Setting
from core.values.errors import PlanError
from core.values.fields import Table
from tests.conftest import MakeApp, ToldTime
from tests.tui.counters import logged, press, read_and_start
from tests.tui.made_up import said
from tests.tui.painted import painted
from tui.board.screen import BoardScreen
from tui.counter.continue_question import WasItMoved
from tui.counter.screen import CounterScreen
from tui.history.run_log import EventList
from tui.operation.declared import DeclaredScreen
from tui.widgets.question import OneOf, Typed

REAM = """\
format = 1
title = "Hub of the dial"
[[operation]]
kind = "ream"
name = "Ream the hub"
to = "12 mm"
"""
SWEEP = REAM.replace("ream", "sweep").replace('to = "12 mm"', 'from = "14 mm"\nto = "12 mm"\ncut = "0.5 mm"')


HALF = Fraction(1, 2)


def _plan_ream(to_mm: float, lathe: Lathe, material: str | None) -> Plan:
    place = Setting(dial="compound", unit="mm", position=HALF, turns=0, reading=HALF, rounding=0.0)
    steps = (
        Step(action="set", text="Reamer in the tailstock"),
        Step(action="cut", text="Ream", settings=(place,), depth_mm=0.5, removed_mm=0.5, remaining_mm=0.0),
        Step(action="measure", text="Measure the bore", expects="bore"),
        Step(action="check", text="Deburr"),
    )
    return Plan(figures={"bore_mm": to_mm}, steps=numbered(steps))


def _replan_ream(
    to_mm: float, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    # It has no use for anything.
    raise nothing_planned_from(entered)


def _read_ream(table: Table, lathe: Lathe) -> float | None:
    return table.length("to", required=True, above=0)


def _count_ream(to_mm: float, lathe: Lathe, material: str | None) -> StepCount:
    return StepCount(len(_plan_ream(to_mm, lathe, material).steps))


REAMING = Operation(read=_read_ream, steps=_count_ream, plan=_plan_ream, replan=_replan_ream)


@pytest.fixture(autouse=True)
def registered(monkeypatch: pytest.MonkeyPatch) -> None:
    """Register only two kinds: a new kind, and turning under another name."""
    ream = Kind("ream", "Ream a bore", "one pass", f"{__name__}:REAMING")
    sweep = Kind("sweep", "Sweep a bore", "as turning", OPERATIONS["turn"].declared)
    for kind in (ream, sweep):
        monkeypatch.setitem(OPERATIONS, kind.kind, kind)  # type: ignore[arg-type]


@pytest.fixture(params=[REAM, SWEEP], ids=["its own plan", "turning by another name"])
def job(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """Return a job with one such operation."""
    path = tmp_path / "hub.toml"
    path.write_text(request.param, encoding="utf-8")
    return path


def shown(pilot: Any) -> str:
    """Return the painted screen as one line."""
    return " ".join(painted(pilot.app).replace("│", " ").split())


async def test_each_key_of_the_counter_works_for_a_newly_registered_operation(
    make: MakeApp, job: Path, told_time: ToldTime
) -> None:
    """Every key of the counter, from measuring to undo, logs an event or shows a refusal."""
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert isinstance(pilot.app.screen, BoardScreen)
        await press(pilot, "enter")
        await read_and_start(pilot)
        screen = pilot.app.screen
        assert isinstance(screen, CounterScreen)
        for keys in (("1",), ("space", "5", "1"), ("8",)):
            screen.show_message("")
            await press(pilot, *keys)
            if isinstance(pilot.app.screen, Typed):
                # Turning by another name asks for its size, as turning does.
                await press(pilot, "escape")
            else:
                assert said(pilot.app), keys
            assert pilot.app.screen is screen, keys
        assert logged(pilot.app).steps_done == 1 and logged(pilot.app).revisions == ()
        await press(pilot, "2")
        if pilot.app.screen is not screen:
            await press(pilot, *"0.4", "enter")
        await press(pilot, "3", "1", "4", *"oil", "enter")
        assert logged(pilot.app).notes[-1].text == "oil"
        for keys in (("6", "1"), ("7", "1")):
            before = logged(pilot.app).steps_done
            await press(pilot, *keys, "minus")
            assert logged(pilot.app).steps_done == before
            told_time.pass_s(2)
        assert pilot.app.screen is screen
        done = logged(pilot.app).steps_done
        await press(pilot, "space")
        assert logged(pilot.app).steps_done == done + 1


async def test_the_board_the_card_and_the_history_show_a_newly_registered_operation(make: MakeApp, job: Path) -> None:
    """Title, name and figures are shown. The board says how to enter a kind that declares no form."""
    kinds = list(OPERATIONS)
    async with make(job=job).run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        assert any(title in shown(pilot) for title in ("Ream a bore", "Sweep a bore"))
        await press(pilot, "c")
        assert "the hub" in shown(pilot)
        await press(pilot, "escape", "enter")
        await read_and_start(pilot)
        await press(pilot, "space", "escape", "enter", "f3")
        assert "the hub" in shown(pilot)
        await press(pilot, "enter")
        assert pilot.app.screen.query_one(EventList).count == 2
        await press(pilot, "escape", "f2", "e", "1")
        if "sweep" in job.read_text():
            # What declares its fields has a form, under whatever name.
            assert isinstance(pilot.app.screen, DeclaredScreen)
            assert "Diameter now" in shown(pilot)
            await press(pilot, "escape")
        else:
            assert isinstance(pilot.app.screen, BoardScreen) and said(pilot.app)
        await press(pilot, "a")
        assert isinstance(pilot.app.screen, OneOf)
        await press(pilot, *["down"] * kinds.index("ream"), "enter")
        assert isinstance(pilot.app.screen, BoardScreen) and "Ream a bore" in shown(pilot)


async def test_after_an_interruption_a_newly_registered_operation_asks_what_was_moved(make: MakeApp, job: Path) -> None:
    """Something was moved and nothing can be planned from it. The program refuses and asks again."""
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "enter")
        await read_and_start(pilot)
        await press(pilot, "space")
        pilot.app.exit(return_code=143)
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        for _ in range(50):
            await pilot.pause()
        question = pilot.app.screen
        assert isinstance(question, WasItMoved)
        await press(pilot, "1")
        if isinstance(pilot.app.screen, Typed):
            await press(pilot, "escape")
        assert isinstance(pilot.app.screen, WasItMoved) and pilot.app.screen is not question
        await press(pilot, "n")
        assert logged(pilot.app).last.kind == "note"


def test_replanning_a_logged_operation_of_an_unknown_kind_is_refused() -> None:
    """A log may contain kinds that this program does not know."""
    plan_input = PlanInput(kind="engrave", parameters={"name": "Lines", "kind": "engrave"}, lathe=example_lathe())
    assert isinstance(logged_plan_input(plan_input), LoggedPlanInput)
    assert kind_of("engrave") is None
    with pytest.raises(PlanError, match='no operation "engrave"'):
        replan(plan_input, Progress, Moved())  # type: ignore[arg-type]
