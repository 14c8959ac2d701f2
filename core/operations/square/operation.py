"""The `square` operation: its plan, its figures, and the new plan after each reading."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from core import safety
from core.cutting import Progress
from core.events.state import State
from core.inputs import Edited, Moved, RunInput
from core.lathe.lathe import Lathe
from core.operations.asked_values import AskedAt, all_asked, as_planned, asked_at, is_answer, rest_after, still_open
from core.operations.form import MATERIAL, Choice, Entry, Figure, Form, Row
from core.operations.operation import Figures, Needs, Operation
from core.operations.runout.job import indicator_words
from core.operations.square.job import HOWS, METHODS, READ, READ_ALONG, SquareJob, read_square
from core.operations.square.steps import MEASURE_AGAIN, SquareAtLathe, all_asks
from core.operations.square.straight_line import bending_mm
from core.plan import Plan, Step, StepCount, numbered
from core.questions import Asked, ChoiceAsked
from core.values.quantities import number_text


def _count(job: SquareJob, lathe: Lathe, material: str | None) -> StepCount:
    return StepCount(10 + 3 * job.count, "at", "fewer places")


def plan_square(job: SquareJob, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a `square` operation. Each reading that the job lacks gets a step that asks for it.

    `material`: the material of the work; None if the job names none.
    """
    here = SquareAtLathe(job, lathe)
    before, after = (
        frozenset(ask.at for ask in asks if len(job.lists_mm.get(ask.at.key, ())) <= (ask.at.place or 0))
        for asks in (here.asks(), here.asks(after=True))
    )
    done_once = here.after is not None
    follows = list(_after_second_set(here) if done_once else _after_first_set(here, after))
    if len(follows) == 1 and not before:
        follows = [here.result(from_file=True)]
    return Plan(
        figures=square_figures(here),
        cautions=tuple(_cautions(here)),
        general=_general(here, material),
        steps=numbered(as_planned([*here.first(), *here.ask_before(before), *follows])),
    )


def _general(here: SquareAtLathe, material: str | None) -> tuple[str, ...]:
    if here.job.method in {"along", "ground bar"}:
        return safety.general(material, safety.INDICATOR_OFF)
    return safety.general(material, *safety.in_the_chuck(here.lathe), safety.INDICATOR_OFF)


def _cautions(here: SquareAtLathe) -> Iterator[str]:
    job, lathe = here.job, here.lathe
    if here.reads and lathe.indicator is None:
        yield f"No indicator is set up. One mark is assumed to be {lathe.indicator_text(here.graduation_mm)}."
    if job.tolerance_mm is not None and job.tolerance_mm < here.graduation_mm:
        yield (
            f"The tolerance of {lathe.indicator_text(job.tolerance_mm)} is smaller than one mark, "
            f"{lathe.indicator_text(here.graduation_mm)}. Such readings cannot prove this tolerance."
        )
    if job.method == "chuck bar":
        yield (
            "A twisted bed and a headstock out of line look the same in this test. Never loosen the headstock on this "
            "test alone."
        )
    if job.method in {"between centres", "ground bar"}:
        yield (
            "This test shows the tailstock's position across the bed. Check its height separately: a diameter hardly "
            "shows it."
        )


def square_figures(here: SquareAtLathe) -> dict[str, Any]:
    """Return the figures of the latest complete set of readings for the card, by key; {} without a complete set."""
    job, latest = here.job, here.after or here.before
    if latest is None:
        return {}
    line = latest.line
    figures: dict[str, Any] = {"slope_deg": line.slope_deg, "slope_mm_per_100_mm": 100 * line.slope}
    known = {
        "straightness_mm": line.straightness_mm,
        "error_mm": line.error_mm,
        "taper_mm": latest.taper_mm,
        "move_mm": latest.move_mm,
        "own_slope_mm_per_100_mm": None if latest.own_slope is None else 100 * latest.own_slope,
    }
    figures |= {key: value for key, value in known.items() if value is not None}
    diameters = job.complete(job.key) if job.method == "chuck bar" else None
    if diameters is not None:
        figures["bending_mm"] = bending_mm(diameters[0], job.stick_out_mm or 0.0)
    return figures


# In a run.


def _after_first_set(here: SquareAtLathe, asked: frozenset[AskedAt]) -> Iterator[Step]:
    """Yield the steps after the first set of readings.

    If the part needs moving, these are a move and a second set of readings. Otherwise they show the result.
    """
    good_enough = here.before is not None and here.job.tolerance_mm is not None and not here.is_outside(here.before)
    if good_enough or not here.job.measures_again:
        yield here.result(final=here.before is not None)
        return
    yield here.correct()
    yield from here.ask_after(asked)
    yield here.result(final=False)


def _after_second_set(here: SquareAtLathe) -> Iterator[Step]:
    """Yield the steps after the second or a later set of readings.

    If the error is still too large, these are another move and another set of readings.
    """
    if here.after is not None and here.is_outside(here.after):
        yield here.correct()
        yield from here.ask_after(frozenset(ask.at for ask in here.asks(after=True)))
        yield here.result(final=False)
        return
    yield here.result()


def replan_square(
    job: SquareJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return the remaining steps after a reading. After a move, the latest set of readings is taken again.

    `entered`: what the user entered. `material`: the material of the work; None if the job names none. Raises PlanError
    for an input that the operation cannot use.
    """
    before, after = (
        frozenset(ask.at for ask in SquareAtLathe(job, lathe).asks(after=later)) for later in (False, True)
    )
    after = after if job.measures_again else frozenset()
    open_now = all_asked(progress.open_steps)
    # Later sets are compared with the first complete set.
    again = after if after and not open_now & before else before | after
    rest = rest_after(progress, entered, again)
    here = SquareAtLathe(job.forgetting(rest.open_asks), lathe)
    if isinstance(entered, Edited) and not is_answer(entered):
        return numbered(_after_edit(here, progress, rest.open_asks - {MEASURE_AGAIN}, before | after), progress.next_id)
    asked_before, asked_after = rest.open_asks & before, rest.open_asks & after
    steps: list[Step] = []
    only_read = any(asked_at(step) == MEASURE_AGAIN for step in progress.open_steps[:1])
    if isinstance(entered, Moved) and job.method == "facing" and not only_read:
        # After a move a new face is cut before it is read.
        steps += here.first()
    if asked_before or rest.at in before:
        steps += [*here.ask_before(asked_before), *_after_first_set(here, asked_after)]
    elif asked_after:
        steps += [*here.ask_after(asked_after), here.result(final=False)]
    else:
        steps += _after_second_set(here)
    return numbered(steps, progress.next_id)


def _after_edit(
    here: SquareAtLathe, progress: Progress, asked: frozenset[AskedAt], every: frozenset[AskedAt]
) -> list[Step]:
    """Return the remaining steps after a change of the job or the lathe; all steps if the method has changed.

    `asked`: the values that the new plan asks for.
    `every`: all values that the method uses.
    """
    whole = [*here.first(), *here.ask_before(asked), here.correct(), *here.ask_after(asked)]
    steps = still_open([*whole, here.result(final=not asked)], progress)
    if not progress.open_steps or (asked <= every and steps):
        return steps
    return list(plan_square(here.job, here.lathe, None).steps)


def square_questions(job: SquareJob, lathe: Lathe, state: State) -> tuple[Asked, ...]:
    """Return the question for the reading of the current step; () at a step without a reading."""
    at = None if state.cursor is None else asked_at(state.cursor)
    if at is None:
        return ()
    here = SquareAtLathe(job, lathe)
    if at == MEASURE_AGAIN:
        words = "Read again" if here.reads else "Measure again"
        return (ChoiceAsked(words, "What do you want to do?", ((words, Moved()),), 0, ""),)
    unit = lathe.indicator_unit if here.reads else lathe.unit
    return tuple(ask.asked(state, unit) for ask in all_asks(here) if ask.at == at)


# How it is entered.

_LABELS = dict(
    zip(
        METHODS,
        ("indicator along it", "facing a disc", "two diameters, centres", "ground bar, centres", "a bar in the chuck"),
        strict=True,
    )
)
_ALONG, _FACING, _CENTRES, _BAR, _CHUCK = ((_LABELS[method],) for method in METHODS)
_READ = tuple(_LABELS[method] for method in READ_ALONG)


def _rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    asked, unit = "(asked at its step)", lathe.unit

    def size(key: str, label: str, methods: tuple[str, ...], hint: str = "", *, required: bool = False) -> Entry:
        return Entry(key=key, label=label, unit=unit, hint=hint, required=required, applies=("method", methods))

    def listed(key: str, label: str, methods: tuple[str, ...], of: str, hint: str, *, required: bool = False) -> Entry:
        return Entry(
            key=key,
            label=label,
            unit=of,
            hint=hint,
            longest=1000,
            required=required,
            applies=("method", methods),
            listed=True,
        )

    return (
        "What is squared",
        Choice(
            key="method",
            label="By",
            options=tuple((words, None if key == METHODS[0] else key) for key, words in _LABELS.items()),
        ),
        listed("at", "Places", _READ, unit, "(0 60 120)", required=True),
        size("apart", "Places apart", (*_CENTRES, *_CHUCK), required=True),
        size("work_length", "Between centres", (*_CENTRES, *_BAR), "(as measured)"),
        size("stick_out", "Bar sticks out", _CHUCK, required=True),
        size("pivot", "Turns about", _ALONG, "(the first position)"),
        size("tap", "Moved at", _ALONG, "(not set)"),
        Choice(
            key="how", label="Moved by", options=(("tapping", None), ("shims", HOWS[1])), applies=("method", _ALONG)
        ),
        Choice(
            key="read",
            label="Read",
            options=((READ[0], None), ("turned over too", READ[1])),
            applies=("method", (*_ALONG, *_BAR)),
        ),
        Entry(key="tolerance", label="Tolerance", unit=lathe.indicator_unit, hint="(not set)"),
        MATERIAL,
        "Already measured",
        listed("readings", "Readings", _READ, lathe.indicator_unit, asked),
        listed("reversed_readings", "Turned over", (*_ALONG, *_BAR), lathe.indicator_unit, "(if read)"),
        listed("readings_after", "After the move", (*_ALONG, *_BAR), lathe.indicator_unit, asked),
        listed("diameters", "Two diameters", (*_CENTRES, *_CHUCK), unit, asked),
        listed("diameters_after", "After the move", (*_CENTRES, *_CHUCK), unit, asked),
    )


def _name(job: SquareJob, lathe: Lathe) -> str:
    return {
        "along": "Square and parallel",
        "facing": "Cross-slide square",
        "between centres": "Tailstock in line",
        "ground bar": "Tailstock in line",
        "chuck bar": "Bed and headstock",
    }[job.method]


def _summary(job: SquareJob, lathe: Lathe, plan: Plan) -> str:
    here = SquareAtLathe(job, lathe)
    latest = here.after or here.before
    if latest is None:
        return "The counter asks for each reading at its step."
    return " ".join([*here.found_words(latest), f"{here.correct_words(latest)}."])


def _figures(job: SquareJob, lathe: Lathe, plan: Plan) -> Iterator[Figure]:
    figures = square_figures(SquareAtLathe(job, lathe))
    for key, value in figures.items():
        text = f"{number_text(value, 4)}°" if key.endswith("_deg") else lathe.indicator_text(value)
        note = "as far as these readings show" if key == "straightness_mm" else ""
        yield Figure(_FIGURE_NAMES[key].capitalize(), text, note)
    if not figures:
        yield Figure("Readings", "none yet", "each is asked at its step")


def _needs(job: SquareJob, lathe: Lathe, figures: Figures) -> Needs:
    held = {"between centres": "between centres", "ground bar": "between centres", "chuck bar": "chuck, end free"}
    if job.method not in READ_ALONG:
        return Needs(place="spindle", workholding=held[job.method], tool="turning tool, sharp")
    return Needs(workholding=held.get(job.method, ""), tool=indicator_words(lathe))


_FIGURE_NAMES: Mapping[str, str] = {
    "slope_deg": "slope, + if the surface comes nearer",
    "slope_mm_per_100_mm": "slope in 100 mm",
    "straightness_mm": "straight within",
    "error_mm": "error over the whole length",
    "taper_mm": "second diameter larger by",
    "move_mm": "move, + away from the indicator",
    "own_slope_mm_per_100_mm": "error of the square or bar in 100 mm",
    "bending_mm": "bar bends under a light cut",
}
"""The figures of a `square` plan, in the order in which they are shown."""
_HELP = (
    "This form helps you to set a vice, a fence, a table's face, a slide or the tailstock in line. You read an "
    "indicator at several positions along the part. halfnut fits a straight line to the readings, and shows its "
    "slope and how straight the part is. It also shows how far to tap or shim, and where. After the move you read "
    "again, and halfnut compares both sets of readings. A reading with + means that the surface is nearer to the "
    "indicator.\n\n"
    "Your square may itself have an error. Turn the square over and read it again, and the result allows for this "
    "error. For the same reason, turn a ground bar by half a turn and read it again.\n\n"
    "To test the cross-slide, face a disc and run the indicator on past the centre. The indicator then shows twice "
    "the error of the cross-slide. To test the tailstock, turn two diameters between centres. Half their difference, "
    "scaled to the length between centres, is how far to move the tailstock. With a ground bar, the difference is "
    "not halved. A bar held only in the chuck bends under the cut. A twisted bed gives the same readings as a "
    "headstock out of line. Never loosen the headstock on this test alone."
)
SQUARE = Operation(
    read=read_square,
    steps=_count,
    plan=plan_square,
    replan=replan_square,
    questions=square_questions,
    needs=_needs,
    figure_names=_FIGURE_NAMES,
    form=Form(rows=_rows, name=_name, summary=_summary, figures=_figures, help=_HELP),
)
