"""Measures calculations of core: change gears, dividing tables, pictures and the depths of passes.

A plain calculation checks each result.
"""

import itertools
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from pathlib import Path

import numpy as np

from core.inputs import SetTo
from core.jobs.job import read_job
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.operations.dividing.division_tables import ARCSEC_PER_TURN, dividing_table
from core.operations.dividing.plates import COMMON_PLATES
from core.operations.registry import PlanInput, picture_of
from core.operations.threads.gearing import ROOM_TEETH, best_trains
from core.operations.threads.groove import ToolTip
from core.operations.threads.schedule import PassLimits, schedule
from core.run.revising import logged_plan_input, revised_steps
from core.values.dials import Setting
from tests.bench.measuring import BenchRow, median_row, taking_turns, timed_ms
from tests.bench.programs import slot
from tests.trials.program import ROOT
from tui.terminal import SYSTEM_CLOCK
from tui.widgets.canvas import Canvas
from tui.widgets.pattern_drawing import PatternDrawing

TIMES, TIMES_FOR_LEAST, PASSES = 9, 45, 100
FRAME_MS = 1000 / 30
WHEELS = (20, 24, 25, 28, 30, 32, 35, 36, 40, 42, 45, 48, 50, 55, 60, 65, 70, 75, 80, 127)
SCREW_MM, LEAD_MM = Fraction(254, 80), Fraction(7, 4)
BEST = 10
PLATES: tuple[Sequence[Sequence[int]], ...] = (
    COMMON_PLATES,
    ((24, 25, 28, 30, 34, 37, 38, 39, 41, 42, 43), (46, 47, 49, 51, 53, 54, 57, 58, 59, 62, 66)),
    ((15, 18, 20, 23, 27, 31, 37, 41, 47), (16, 17, 19, 21, 29, 33, 39, 43, 49)),
)
RATIO, DIVISIONS = 40, range(2, 401)

_CAUSE_STEPS = "each pass is a step with its setting, remade once to be numbered"
_CAUSE_AREAS = "the area of an even pass is found in some eight trials, each of which goes through all passes"


def rows(folder: Path, environment: Mapping[str, str]) -> Iterator[BenchRow]:
    """Yield the measured rows of all calculations."""
    yield _gears()
    yield _dividing()
    yield from _picture()
    yield _schedule()
    yield _replanned(folder)


def _gears() -> BenchRow:
    ours = [abs(train.error_ppm) for train in best_trains(LEAD_MM, SCREW_MM, WHEELS, most=BEST, sizes=(4,))]
    theirs = gear_errors_ppm()
    assert np.allclose(ours, theirs, atol=1e-6), (ours, theirs)
    search, brute = taking_turns(
        TIMES,
        timed_ms(lambda: best_trains(LEAD_MM, SCREW_MM, WHEELS, most=BEST, sizes=(4,))),
        timed_ms(gear_errors_ppm),
    )
    return median_row(
        "change gears, 20 wheels, 4 in the train", "numpy over all trains, same best", search, brute, at_most=1
    )


def gear_errors_ppm() -> list[float]:
    """Return the smallest lead errors of all trains of four wheels that can mesh [ppm].

    Every train is tried.
    """
    teeth = np.array(WHEELS)
    first, driven, second, last = np.array(list(itertools.permutations(range(len(teeth)), 4)), dtype=np.int16).T
    a, b, c, d = teeth[first], teeth[driven], teeth[second], teeth[last]
    room = (a + b - c >= ROOM_TEETH) & (c + d - b >= ROOM_TEETH)
    # A train is the same if its drivers, or its driven wheels, are in another order.
    drivers, followers = np.minimum(a, c) * 1000 + np.maximum(a, c), np.minimum(b, d) * 1000 + np.maximum(b, d)
    _, unique = np.unique((drivers * 1_000_000 + followers)[room], return_index=True)
    ratio = (a * c / (b * d))[room][unique]
    errors = np.abs(ratio * float(SCREW_MM / LEAD_MM) - 1) * 1e6
    return [float(error) for error in np.sort(errors)[:BEST]]


def _dividing() -> BenchRow:
    for plates in PLATES:
        ours = [line.worst_arcsec for line in dividing_table(RATIO, plates, DIVISIONS)]
        worst = [min(_worst(number, circle) for circle in _circles(plates)) for number in DIVISIONS[::7]]
        assert np.allclose(ours[::7], np.array(worst) * ARCSEC_PER_TURN / RATIO, atol=1e-6)
    tables, loops = taking_turns(
        TIMES,
        timed_ms(lambda: [dividing_table(RATIO, plates, DIVISIONS) for plates in PLATES]),
        timed_ms(lambda: [plain_dividing_table(plates) for plates in PLATES]),
        warm=1,
    )
    return median_row(
        "dividing tables, 2 to 400, three plate sets", "a plain loop over circles", tables, loops, at_most=1
    )


def plain_dividing_table(plates: Sequence[Sequence[int]]) -> list[float]:
    """Return the largest error on the best hole circle for every number of divisions [arcsec].

    The positions, reduced to one hole, are evenly spaced. The position nearest to the middle between two holes has the
    largest error.
    """
    found = []
    for divisions in DIVISIONS:
        errors = []
        for circle in _circles(plates):
            parts = Fraction(RATIO * circle, divisions).denominator
            errors.append(parts // 2 / parts / circle * ARCSEC_PER_TURN / RATIO)
        found.append(min(errors))
    return found


def _circles(plates: Sequence[Sequence[int]]) -> list[int]:
    return sorted({circle for plate in plates for circle in plate})


def _worst(divisions: int, circle: int) -> float:
    """Return the largest error on a hole circle, calculated position by position [turns of the handle]."""
    rests = [position * RATIO * circle % divisions for position in range(divisions)]
    return max(min(rest, divisions - rest) for rest in rests) / divisions / circle


def _picture() -> Iterator[BenchRow]:
    plan_input = four_layers()
    picture = picture_of(plan_input)
    assert picture is not None and len(picture.cuts) == 4 * 60
    drawing = PatternDrawing(picture)

    def first() -> None:
        canvas = Canvas(64, 32, "braille")
        PatternDrawing(picture).draw(canvas)
        canvas.lines()

    def again() -> None:
        canvas = Canvas(64, 32, "braille")
        drawing.draw(canvas)
        canvas.lines()

    new, redrawn = taking_turns(TIMES_FOR_LEAST, timed_ms(first), timed_ms(again), warm=2)
    yield _least_row("picture of 4 layers of 60 circles", "a frame at 30 a second", new, FRAME_MS)
    yield _least_row("the same, redrawn on a key", "two frames", redrawn, 2 * FRAME_MS)


def _least_row(what: str, against: str, times: Sequence[float], floor: float, cause: str = "") -> BenchRow:
    """Return a row with the shortest of several times. Other work of the computer does not affect it."""
    against = f"{against}; the least of {len(times)}"
    return BenchRow(what=what, against=against, taken=min(times), floor=floor, at_most=1, cause=cause)


def four_layers() -> PlanInput:
    """Return the plan input of a pattern with 4 layers of 60 circles."""
    layers = read_job(ROOT / "sample_jobs" / "hour_lines.toml").operations[2].plan_input
    layer = dict(layers.parameters["layer"][1])
    layer.pop("skip", None)
    many = [{**layer, "count": 60, "offset": f"{offset} mm"} for offset in (18, 22, 26, 30)]
    return PlanInput(kind="pattern", parameters={**layers.parameters, "layer": many}, lathe=layers.lathe)


def _replanned(folder: Path) -> BenchRow:
    """Return the row for planning the rest of a slot again after one pass was set one mark deeper."""
    slots = read_job(slot(folder)).operations[0]
    with Logbook.open(folder / "schedule") as logbook:
        run = ActiveRun.begin(logbook, slots.plan, logged_plan_input(slots.plan_input), None, SYSTEM_CLOCK, "bench")
        for _ in range(15):
            run.done()
        state = run.state
        run.close()
    assert state.cursor is not None
    setting = state.cursor.settings[0]
    assert isinstance(setting, Setting)
    entered = SetTo(dial=setting.dial, position=setting.position + Fraction("0.02"), shown="a mark deeper")
    count = sum(step.action == "cut" for step in revised_steps(slots.plan_input, state, entered))
    times = taking_turns(TIMES_FOR_LEAST, timed_ms(lambda: revised_steps(slots.plan_input, state, entered)), warm=2)[0]
    return _least_row(
        f"{count} passes of a slot, planned again", "a tenth of a frame", times, FRAME_MS / 10, _CAUSE_STEPS
    )


def _schedule() -> BenchRow:
    """Return the row for calculating the depths of a thread in 100 passes."""

    def planned() -> tuple[int, ...]:
        tip, limits = ToolTip(half_angle_deg=30, flat_mm=0.1), PassLimits(deepest_mm=0.25, lightest_mm=0.01)
        return schedule(total_marks=400, mark_mm=0.005, passes=PASSES, usual_passes=20, limits=limits, tip=tip).marks

    assert len(planned()) == PASSES
    times = taking_turns(TIMES_FOR_LEAST, timed_ms(planned), warm=2)[0]
    return _least_row(
        f"schedule of {PASSES} passes of a thread", "a tenth of a frame", times, FRAME_MS / 10, _CAUSE_AREAS
    )
