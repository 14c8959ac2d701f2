"""The pages before a run starts: every caution is visible before the user can start, and again later."""

from typing import Any

import pytest
from textual.geometry import Size

from core.jobs.job import read_job
from core.operations.registry import PlanInput
from core.plan import Plan
from tests.conftest import MakeApp
from tests.core.planned import make_plan
from tests.golden.keeping import SAMPLES
from tests.tui.counters import Opening, press
from tests.tui.painted import painted
from tui.counter.caution_page import CautionPage, StartPage, pages_of
from tui.counter.screen import CounterScreen
from tui.runs import open_run, start_without_job

LONGEST = "zinc-coated leaded cast bronze and wood"
"""A material that has every caution that materials can have."""
BASES = {
    f"{path.stem} {operation.name}": operation.plan_input
    for path in sorted(SAMPLES.glob("*.toml"))
    if not path.stem.endswith("_lathe")
    for operation in read_job(path).operations
}
RINGS = next(plan_input for plan_input in BASES.values() if plan_input.kind == "pattern")


def one_line(app: Any) -> str:
    """Return the painted text as one row, without frames and signs."""
    words = " ".join(painted(app).split())
    return words.replace(" ! ", " ")


async def read(pilot: Any, plan_input: PlanInput) -> list[str]:
    """Start an operation. Return the text of each page until the counter opens."""
    start_without_job(pilot.app.context, plan_input, make_plan(plan_input))
    await pilot.pause()
    seen = []
    while isinstance(pilot.app.screen, StartPage):
        seen.append(one_line(pilot.app))
        await press(pilot, "1")
    assert isinstance(pilot.app.screen, CounterScreen)
    return seen


def unseen(plan: Plan, page: str) -> list[str]:
    """Return the general cautions that are missing from a page."""
    return [caution for caution in plan.general if caution not in page]


async def test_all_general_cautions_fit_on_the_first_page_of_an_80_by_24_screen(make: MakeApp) -> None:
    """This holds for every operation of every sample and for the longest combination, without scrolling."""
    async with make(opening=Opening).run_test(size=(80, 24)) as pilot:
        for plan_input in (*BASES.values(), RINGS._replace(material=LONGEST)):
            plan = make_plan(plan_input)
            pages = await read(pilot, plan_input)
            assert unseen(plan, pages[0]) == [], pages[0]
            own = [caution for caution in plan.cautions if not any(caution in page for page in pages)]
            assert own == [], pages
            assert "Start 0" in pages[-1] and all("Next page" in page for page in pages[:-1])
            pilot.app.pop_screen()
            await pilot.pause()


@pytest.mark.parametrize("size", [(40, 12), (60, 16), (80, 40), (120, 24), (120, 40)])
async def test_a_run_can_be_started_only_after_every_caution_has_been_shown(
    make: MakeApp, size: tuple[int, int]
) -> None:
    """This holds at every screen size."""
    plan_input = RINGS._replace(material=LONGEST)
    plan = make_plan(plan_input)
    async with make(opening=Opening).run_test(size=size) as pilot:
        seen = " ".join(await read(pilot, plan_input)).replace("│ ", "").replace(" │", "").replace(" ! ", " ")
        assert [caution for caution in (*plan.general, *plan.cautions) if caution not in seen] == []


async def test_answering_not_yet_on_a_caution_page_starts_no_run(make: MakeApp) -> None:
    """Not yet and Esc on any page log nothing."""
    async with make(opening=Opening).run_test(size=(40, 12)) as pilot:
        for keys in (("0",), ("1", "escape")):
            start_without_job(pilot.app.context, RINGS, make_plan(RINGS))
            await pilot.pause()
            await press(pilot, *keys)
            assert isinstance(pilot.app.screen, Opening)
        assert list(pilot.app.context.log.logbook().runs()) == []  # type: ignore[arg-type]


async def test_pressing_slash_or_c_on_the_counter_shows_the_cautions_again(make: MakeApp) -> None:
    """This works also in a run that can only be viewed.

    Space on the page counts no step.
    """
    async with make(job=SAMPLES / "sundial_arbor.toml", opening=Opening).run_test(size=(80, 24)) as pilot:
        open_run(pilot.app.context, pilot.app.context.job.operations[2])  # type: ignore[attr-defined]
        await pilot.pause()
        await press(pilot, "1")
        counter = pilot.app.screen
        assert isinstance(counter, CounterScreen)
        for key, leave in (("slash", "escape"), ("c", "space")):
            await press(pilot, key)
            assert isinstance(pilot.app.screen, CautionPage)
            assert unseen(counter.state.plan, one_line(pilot.app)) == []
            assert "The tool is sharper than the standard's root" in one_line(pilot.app)
            await press(pilot, leave)
            assert pilot.app.screen is counter
        assert counter.state.steps_done == 0


def test_cautions_too_long_for_one_page_continue_on_a_second_page() -> None:
    """Twelve general cautions and six of the run fill two pages at 80x24 and one page at 120x40. None is missing."""
    plan = Plan(
        steps=make_plan(RINGS).steps[:1],
        general=tuple(f"general {number}" for number in range(12)),
        cautions=tuple(f"own {number} " + "word " * 20 for number in range(6)),
    )
    pages = pages_of(plan, "Start: x? 1 steps.", Size(80, 24))
    assert [[part.heading for part in page] for page in pages] == [["Every time"], ["This time"]]
    assert len(pages_of(plan, "Start: x? 1 steps.", Size(120, 40))) == 1
    small = pages_of(plan, "Start: x? 1 steps.", Size(40, 12))
    told = [caution for page in small for part in page for caution in part.cautions]
    assert told == [*plan.general, *plan.cautions]
