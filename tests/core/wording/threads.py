"""What the program says about threads: half nuts, gears, unwise choices, measurements and trials."""

from collections.abc import Iterator
from typing import Any, get_args

from core.cutting import progress_of
from core.inputs import GaugeTried, Measured, MovedPart, PickedUp, RunInput, input_as_data, input_from_data
from core.operations.registry import replan
from core.operations.threads.carriage_travel import direction_words, stop_place_words
from core.operations.threads.gearing import Train, idler_words
from core.operations.threads.measuring import limits_words, measured_pitch_diameters, verdict_words
from core.operations.threads.starts import index_words
from core.operations.threads.thread_dial import DialUse, dial_use_words
from core.operations.threads.tool import full_profile_words, lean_words, side_clearance_words, standard_tip_words
from core.pages.figure_words import figure_lines
from tests.core.planned import make_plan
from tests.core.thread_jobs import job_of, lathe, plan_input_of, plan_of
from tests.core.wording.said import Said, keys_text, said

M30 = {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.30 mm"}
M20 = {"thread": "M20x1.5-6H", "blank": "18.5 mm"}
USES = (
    DialUse(teeth=16, lines=4, use=(0, 1, 2, 3), anywhere=True),
    DialUse(teeth=16, lines=4, use=(0, 1, 2, 3), anywhere=False),
    DialUse(teeth=16, lines=8, use=(0, 2, 4, 6), anywhere=False),
    DialUse(teeth=12, lines=12, use=(0, 3, 6, 9), anywhere=False),
    DialUse(teeth=22, lines=22, use=(0, 11), anywhere=False),
    DialUse(teeth=16, lines=8, use=(0,), anywhere=False),
    DialUse(teeth=16, lines=8, use=(), anywhere=False),
)
UNWISE: tuple[dict[str, Any], ...] = (
    {**M20, "length": "25 mm"},
    {**M20, "length": "90 mm"},
    {"thread": "M2-6H", "blank": "1.6 mm"},
    {**M30, "compound_angle": "30 deg"},
    {**M30, "compound_angle": "35 deg"},
    {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "1.20 mm"},
    {"thread": "M30x3.5-6g", "blank": "30.10 mm"},
    {"thread": "M30x3.5-6g", "blank": "29.40 mm"},
    {**M30, "relief": "5 mm", "relief_diameter": "25.5 mm"},
    {**M30, "relief": "3 mm"},
    {**M30, "speed": "90 rpm"},
    {"thread": "M20x2", "length": "85 mm"},
    {"thread": "M20x2", "length": "210 mm"},
)
GIVEN: tuple[RunInput, ...] = (
    GaugeTried(fit="won't start"),
    GaugeTried(fit="tight"),
    GaugeTried(fit="fits"),
    GaugeTried(fit="loose"),
    Measured(what="pitch diameter", size_mm=27.44, free_end_mm=27.40),
    Measured(what="pitch diameter", size_mm=27.70, free_end_mm=27.75),
    Measured(what="pitch diameter", size_mm=27.40),
    Measured(what="pitch diameter", size_mm=27.5),
    Measured(what="pitch diameter", size_mm=31.0),
    Measured(what="crest", size_mm=2.48),
    *(PickedUp(moved=moved) for moved in get_args(MovedPart)),
)
MEASURED: tuple[tuple[dict[str, str], int, dict[str, Any]], ...] = (
    (M30, 2, {"pitch_diameter_mm": 27.608, "reading_error_mm": 0.01}),
    (M30, 1, {"pitch_diameter_mm": 27.59}),
    (M30, 0, {"pitch_diameter_mm": 27.575}),
    (M30, 0, {"pitch_diameter_mm": 27.56}),
    (M30, 2, {"pitch_diameter_mm": 27.774}),
    (M30, 2, {"pitch_diameter_mm": 27.67, "reading_error_mm": 0.01}),
    (M30, 2, {"pitch_diameter_mm": 27.40}),
    (M30, 2, {"pitch_diameter_mm": 27.2}),
    (M20, 2, {"pitch_diameter_mm": 19.25}),
    (M30, 2, {"pitch_diameter_mm": {"shoulder": 27.44, "free": 27.55}}),
    (M30, 2, {"pitch_diameter_mm": {"shoulder": 27.95, "free": 27.7}}),
)


def page() -> Iterator[Said]:
    """Return what is said in each situation."""
    for use in USES:
        table = {"teeth": use.teeth, "lines": use.lines, "use": list(use.use), "anywhere": use.anywhere}
        ((name, value),) = figure_lines({"thread_dial": [table]})
        yield said(f"wheel of {use.teeth}, lines {use.use}", dial_use_words(use), f"{name}: {value}")
    for train in (Train((40,), (60,), 2.0, 0.0), Train((40, 60), (60, 80), 1.5, 0.0)):
        for left_hand in (False, True):
            yield said(f"{train.drivers} {train.driven}, left {left_hand}", idler_words(train, left_hand=left_hand))
    usual = {*plan_of(**M30).cautions, *plan_of(**M20).cautions}
    for keys in UNWISE:
        yield said(keys_text(keys), *(caution for caution in plan_of(**keys).cautions if caution not in usual))
    yield from _of_the_tool()
    yield from _again()
    for table, marks_left, data in MEASURED:
        job = job_of(**table)
        measured = measured_pitch_diameters(job, lathe(), input_from_data("measured", data))
        sentences = verdict_words(job, lathe(), measured, job.infeed(lathe()), marks_left)
        yield said(f"{table['thread']} measured {keys_text(data)}, {marks_left} marks left", *sentences)
    for what in ("pitch diameter", "over wires"):
        yield said(f"M10, {what}", limits_words(lathe(), plan_of(thread="M10", wire="0.9 mm").figures, what))


def _of_the_tool() -> Iterator[Said]:
    """Yield how the tool is ground and set, and where it stops."""
    for keys in (M30, {"thread": "M20x2-LH", "runs": "from the chuck"}, {"thread": "M24xPh6P3", "relief": "5 mm"}):
        job, its = job_of(**keys, length="22 mm"), lathe()
        ground = (
            standard_tip_words(job, its),
            *side_clearance_words(job),
            lean_words(job, its),
            full_profile_words(job, its),
        )
        starts = index_words(job, its) if job.thread.starts > 1 else ()
        yield said(keys_text(keys), *ground, direction_words(job), stop_place_words(job, its), *starts)


def _again() -> Iterator[Said]:
    """Yield what the first step says after the thread was tried, measured or moved."""
    plan_input = plan_input_of(**M30)
    plan = make_plan(plan_input)
    at = max(number for number, step in enumerate(plan.steps) if step.action == "measure")
    known = progress_of(plan.steps[:at], plan.steps[at:], 500)
    for entered in GIVEN:
        step = replan(plan_input, known, entered)[0]
        cause, data = input_as_data(entered)
        yield said(f"{cause}, {keys_text(data)}", step.text, *step.findings, *step.cautions)
