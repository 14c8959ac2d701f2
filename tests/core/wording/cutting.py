"""What the program says about a size that was measured, or set differently, when turning and facing."""

from collections.abc import Iterator

from core.cutting import Progress
from core.inputs import DiametersMeasured, Measured, Moved
from core.lathe.lathe import Lathe
from core.lathe.reader import example_lathe
from core.operations.drilling.tool_cut import MEASURED as HOLE_DEPTH
from core.operations.registry import operation_of, replan
from core.values.errors import PlanError
from tests.core.counted import Counted
from tests.core.operations.drilling.holes_made import blind, drilled
from tests.core.operations.test_facing import METRIC
from tests.core.operations.test_facing import plan_input as facing
from tests.core.operations.test_taper import ARBOR
from tests.core.operations.test_turning import ended, plan_input
from tests.core.wording.said import Said, refusal, said

MEASURED = (("2.9", 27.08), ("2.9", 27.07), ("2.6", 27.83), ("3.2", 26.70), ("3.2", 26.81), ("3.2", 26.79))


def page() -> Iterator[Said]:
    """Return what the program says in each situation."""
    lathe = example_lathe()
    for position, size_mm in (
        ("2.9", 27.08),
        ("2.9", 27.07),
        ("2.6", 27.83),
        ("3.2", 26.70),
        ("3.2", 26.81),
        ("3.2", 26.79),
    ):
        step = ended(lathe, position, size_mm)[0]
        yield said(f"turned to {position} of 3.2, measured {size_mm} mm", step.text, *step.findings, *step.cautions)
    yield said("turned to 2.6 of 3.2, measured 273.8 mm", *refusal(ended, lathe, "2.6", 273.8))
    its = plan_input(lathe, from_="30 mm", to="26.8 mm", cut="0.75 mm")
    yield said(
        "moved, 27.4 mm", replan(its, Progress(next_id=9), Moved(size=Measured(what="size", size_mm=27.4)))[0].text
    )
    yield from _tapers(lathe)
    yield from _holes()
    face = facing(METRIC, kind="face", dial="compound", remove="2 mm")
    yield said("face moved", replan(face, Progress(next_id=9), Moved(size=Measured(what="to go", size_mm=1.0)))[0].text)


def _holes() -> Iterator[Said]:
    for keys in (blind("25 mm"), {"drill": "9 mm", "through": "20 mm", "strip": "1 mm"}):
        for size_mm in (11.9, 9.0, 60.0, 250.0):
            run = drilled(**keys)
            while run.cursor.action != "cut":
                run.done()
            run.done()
            situation = f"{keys['drill']} hole, {size_mm} mm deep after one peck"
            try:
                steps = replan(run.plan_input, run.state.progress, Measured(what=HOLE_DEPTH, size_mm=size_mm))[:1]
                moved = replan(
                    run.plan_input, run.state.progress, Moved(size=Measured(what=HOLE_DEPTH, size_mm=size_mm))
                )
            except PlanError as error:
                yield said(situation, error.message)
                continue
            yield said(situation, *(words for step in steps for words in (step.text, *step.findings)))
            yield said(f"{situation}, moved", moved[0].text)


def _tapers(lathe: Lathe) -> Iterator[Said]:
    for near_mm, far_mm in ((15.6, 17.9), (15.6, 17.7), (15.66, 17.86), (15.1, 17.6), (15.1, 17.4), (15.6, 18.6)):
        situation = f"a taper of 1:20 roughed, measured {near_mm} and {far_mm} mm"
        run = Counted(lathe, "taper", **ARBOR)
        while run.cursor.action != "measure":
            run.done()
        at_mm = operation_of("taper").questions(run.job, lathe, run.state)[0].at_mm  # type: ignore[union-attr]
        entered = DiametersMeasured(at_mm=at_mm, diameters_mm=(near_mm, far_mm))
        try:
            steps = replan(run.plan_input, run.state.progress, entered)[:2]
        except PlanError as error:
            yield said(situation, error.message)
            continue
        yield said(situation, *(words for step in steps for words in (step.text, *step.findings)))
