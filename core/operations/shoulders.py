"""Turning shoulders: a stepped shaft or bore from a sketch, with all diameters and lengths entered as one list.

Every length counts from the same face. The longest shoulder is cut first: on a shaft it has the largest diameter, in a
bore the smallest. The tool is touched off once, on the blank, and the cross-slide's dial counts on from there through
all shoulders. A measured diameter or length corrects all later shoulders. Lengths are in mm.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

from core import safety
from core.cutting import MEASURED_DEPTH, Infeed, Progress
from core.events.state import State
from core.inputs import Edited, Measured, Moved, RunInput
from core.lathe.lathe import CARRIAGE, Lathe
from core.operations.form import LONGEST_ENTRY, Choice, Entry, Figure, Form, Row, set_up_rows
from core.operations.length_movements import LENGTH, length_asked, length_measured, pass_movements, shift_of
from core.operations.lengths import (
    DIAL,
    END_FACE,
    MOUTH,
    RULE,
    CutLength,
    length_cautions,
    length_steps,
    read_lengths_by,
    stop_words,
    with_ends,
)
from core.operations.operation import SET_UP_KEYS, Figures, Needs, Operation
from core.operations.size_cut import (
    BREAK_EDGES,
    SizeCut,
    count_passes,
    count_size_cut,
    pass_limits,
    read_pass_depths,
    touch_off,
)
from core.operations.size_cut_form import SET_ON, cut_figures, how_to_cut, lengths_by
from core.operations.size_cut_replanning import SizeCutAtLathe, replan_size_cut, size_cut_moved, size_cut_questions
from core.plan import Plan, Step, StepCount, numbered
from core.questions import Asked
from core.replanning import Reached, reached_by
from core.values.dials import ZeroedDials
from core.values.errors import QuantityError
from core.values.fields import Table
from core.values.quantities import number_text, read_quantity
from core.values.wanted_size import WantedSize, read_wanted_size

if TYPE_CHECKING:
    from core.drawing import Drawing

MOST_SHOULDERS = 10
_KEYS = tuple((f"diameter_{number}", f"ends_at_{number}") for number in range(1, MOST_SHOULDERS + 1))
"""The two fields of each shoulder in the form, in the order of the user's list."""
SHOULDER = "shoulder"
"""Key in `Step.extra` for the number of the step's shoulder, from 1 in the order of cutting."""
_ROW = "shoulder_row"
"""Key in `Step.extra` for the number of the step's shoulder in the user's list, from 1. The counter shows it."""
_NEXT_FOLLOWS = "The next shoulder follows"
_LIST = 'pairs of a diameter and its length from the face, such as [["36 mm", "40 mm"], ["30 g6", "22 mm"]]'
_SPRINGS_ABOVE = 4.0
"""A shoulder longer than this many diameters springs away from the tool. Common practice, no source."""


class Shoulders(NamedTuple):
    """The shoulders of one shaft or bore, in the order of cutting. Each shoulder is a separate cut."""

    cuts: tuple[SizeCut, ...]
    rows: tuple[int, ...]
    """The number of each cut's shoulder in the user's list, from 1."""

    def length(self, number: int) -> CutLength:
        """Return where a shoulder starts and ends along the axis. `number`: the index of the shoulder, from 0."""
        along = self.cuts[number].along
        assert along is not None
        return along

    @property
    def lengths(self) -> list[CutLength]:
        """Where each shoulder starts and ends along the axis, in the order of cutting."""
        return [self.length(number) for number in range(len(self.cuts))]


class _Pair(NamedTuple):
    """One shoulder of the user's list: its number in the list, its wanted diameter, and its end, counted from the face
    [mm].
    """

    row: int
    wanted: WantedSize
    ends_mm: float


class _Refusal(NamedTuple):
    """A sentence that says why a shoulder is refused, and the form's field that holds the wrong size."""

    message: str
    field: str


# Reading.


def read_shoulders(table: Table, lathe: Lathe) -> Shoulders | None:
    """Return the cuts of a `shoulders` operation; None if an entry is wrong. Errors are added to `table.problems`."""
    before = len(table.problems)
    inside = table.word("side", ("outside", "inside")) == "inside"
    blank = table.length("from", required=True, above=0)
    face = table.text("zero_face", longest=40) or (MOUTH if inside else END_FACE)
    by = read_lengths_by(table, lathe)
    sizes = read_pass_depths(table, lathe)
    pairs = _read_pairs(table)
    if len(table.problems) > before or blank is None or sizes is None:
        return None
    # The longest shoulder is cut first.
    pairs = sorted(pairs, key=lambda pair: pair.wanted.middle_mm, reverse=not inside)
    if refusal := _refusal(pairs, blank, lathe, inside=inside):
        table.problem("shoulders", *refusal)
        return None
    cut_mm, finish_mm = sizes
    longest_mm = pairs[0].ends_mm
    cuts = [
        SizeCut(
            "cross_slide",
            blank,
            pair.wanted.middle_mm,
            cut_mm,
            finish_mm,
            measured="diameter",
            outwards=inside,
            wanted=pair.wanted if pair.wanted.has_limits else None,
            along=CutLength(0.0, pair.ends_mm, by, face, short_mm=finish_mm, stop_mm=longest_mm),
            label=f" {_diameter(pair, lathe)}",
            ending=BREAK_EDGES if pair is pairs[-1] else _NEXT_FOLLOWS,
            size_key="shoulders",
        )
        for pair in pairs
    ]
    return Shoulders(tuple(cuts), tuple(pair.row for pair in pairs))


def _diameter(pair: _Pair, lathe: Lathe) -> str:
    return pair.wanted.text if pair.wanted.has_limits else lathe.length_text(pair.wanted.middle_mm)


def _read_pairs(table: Table) -> list[_Pair]:
    items = table.items("shoulders", _LIST, least=1, most=MOST_SHOULDERS)
    if not items and not table.has("shoulders"):
        table.problem("shoulders", f"Missing. Enter {_LIST}.")
    pairs = []
    for number, item in enumerate(items, start=1):
        diameter, ends_at = _KEYS[number - 1]
        if not isinstance(item, list | tuple) or len(item) != 2:
            table.problem("shoulders", f"Shoulder {number} needs a diameter and a length. Enter {_LIST}.", diameter)
            continue
        field = diameter
        try:
            wanted = read_wanted_size(item[0])
            field = ends_at
            ends = read_quantity(item[1], "length")
        except QuantityError as error:
            table.problem("shoulders", f"Shoulder {number} is wrong. {error.message}", field)
            continue
        if wanted.lower_mm <= 0 or ends.value <= 0:
            field = diameter if wanted.lower_mm <= 0 else ends_at
            table.problem(
                "shoulders", f"The diameter and the length of shoulder {number} must be above 0. Enter {_LIST}.", field
            )
            continue
        pairs.append(_Pair(number, wanted, float(ends.value)))
    return pairs


def _refusal(pairs: Sequence[_Pair], blank_mm: float, lathe: Lathe, *, inside: bool) -> _Refusal | None:
    """Return why these shoulders cannot be turned from one face; None if they can.

    `pairs`: the shoulders in the order of cutting. `blank_mm`: the diameter before the first cut [mm]. `inside`: True
    for shoulders in a bore.
    """
    text = lathe.length_text
    first = pairs[0].wanted.middle_mm
    if (first <= blank_mm) if inside else (first >= blank_mm):
        wider = "larger" if inside else "smaller"
        what = "bore" if inside else "blank"
        words = (
            f"{_diameter(pairs[0], lathe)} is not {wider} than the {what}, {text(blank_mm)}. Enter a {wider} diameter."
        )
        return _Refusal(words, _KEYS[pairs[0].row - 1][0])
    for outer, inner in pairwise(pairs):
        diameter, ends_at = _KEYS[inner.row - 1]
        if outer.wanted.middle_mm == inner.wanted.middle_mm:
            twice = _diameter(inner, lathe)
            return _Refusal(
                f"{twice} is entered twice. Enter each diameter only once, with its full length from the face.",
                diameter,
            )
        if inner.ends_mm >= outer.ends_mm:
            words = (
                f"{_diameter(inner, lathe)} to {text(inner.ends_mm)} would undercut {_diameter(outer, lathe)}, which "
                f"ends at {text(outer.ends_mm)}. Enter all lengths from one face. Cut an undercut as a groove, or "
                "from the other end."
            )
            return _Refusal(words, ends_at)
    return None


# Planning.


def count_shoulders(shoulders: Shoulders, lathe: Lathe, material: str | None) -> StepCount:
    """Return how many steps a plan of these shoulders has. Raises PlanError if the lathe has no cross-slide dial."""
    count = count_size_cut(shoulders.cuts[0], lathe, material)
    steps, marks = count.steps, Fraction(0)
    for cutting, length in zip(shoulders.cuts, shoulders.lengths, strict=True):
        infeed = cutting.infeed(lathe)
        last = SizeCutAtLathe(cutting, lathe).last_mark(Reached(marks, infeed.depth_mm(marks)))
        if cutting is not shoulders.cuts[0]:
            lines = length_steps([length], lathe) if length.by == RULE else []
            # Each shoulder ends with one measurement.
            steps += len(lines) + 1
            steps += count_passes(round(last - marks), pass_limits(cutting, infeed)) if last > marks else 0
        marks = max(marks, Fraction(last))
    return count._replace(steps=steps)


def plan_shoulders(shoulders: Shoulders, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of all shoulders. Raises PlanError if the lathe has no cross-slide dial."""
    first = shoulders.cuts[0]
    infeed = first.infeed(lathe)
    set_up = length_steps(shoulders.lengths if shoulders.length(0).by != RULE else [], lathe)
    cuts = _planned_from(shoulders, lathe, 0, Reached(Fraction(0), 0.0), 0.0)
    steps = [*set_up, *cuts]
    at = next(at for at, step in enumerate(steps) if step.action == "cut")
    steps[at:at] = _of_shoulder(shoulders, 0, [touch_off(first, lathe, infeed, first.from_mm)])
    return Plan(
        figures={
            "from_mm": first.from_mm,
            "shoulders": [
                {"diameter_mm": cutting.to_mm, "ends_at_mm": length.ends_mm, "row": row, **_wanted_text(cutting)}
                for row, cutting, length in zip(shoulders.rows, shoulders.cuts, shoulders.lengths, strict=True)
            ],
            "lengths_by": shoulders.length(0).by,
            "passes": sum(step.action == "cut" for step in steps),
        },
        cautions=tuple(dict.fromkeys(_cautions(shoulders, lathe))),
        general=safety.general(material, *safety.in_the_chuck(lathe)),
        steps=numbered(steps),
    )


def _wanted_text(cutting: SizeCut) -> dict[str, str]:
    """Return the figure that states a shoulder's fit or limits as entered, such as "30 g6"; {} for a plain diameter."""
    return {"wanted": cutting.wanted.text} if cutting.wanted else {}


def _cautions(shoulders: Shoulders, lathe: Lathe) -> Iterator[str]:
    for cutting, length in zip(shoulders.cuts, shoulders.lengths, strict=True):
        # In a bore the tool springs, not the work.
        ratio = length.ends_mm / cutting.to_mm
        if ratio > _SPRINGS_ABOVE and not cutting.outwards:
            what = f"{cutting.label.strip()} over {lathe.length_text(length.ends_mm)}"
            yield f"{what} is {number_text(ratio, 1)} diameters long, so it springs. Support the work with a centre."
    for length in shoulders.lengths:
        yield from length_cautions(length, lathe)


def _planned_from(shoulders: Shoulders, lathe: Lathe, number: int, reached: Reached, shift_mm: float) -> list[Step]:
    """Return the steps of one shoulder and of all shoulders cut after it.

    `number`: the index of the shoulder, from 0. `reached`: the dial position and the depth reached so far. `shift_mm`:
    how much more the carriage dial reads than the true length [mm].
    """
    steps = list[Step]()
    for at in range(number, len(shoulders.cuts)):
        cutting, length = shoulders.cuts[at], shoulders.length(at)
        cut = SizeCutAtLathe(cutting, lathe, pass_limits(cutting, cutting.infeed(lathe)))
        last = cut.last_mark(reached)
        if last < reached.marks:
            own = cut.nothing_left(reached)
        else:
            own = cut.ended(cut.passes(reached, last, "") if last > reached.marks else [], reached, last)
        # Cutting the shoulder before removes a scribed line, so each shoulder gets its own line.
        lines = length_steps([length], lathe) if length.by == RULE else []
        own = [*lines, *with_ends(own, length, lathe, shift_mm)]
        steps += _of_shoulder(shoulders, at, own)
        reached = _after(reached, own, cut.infeed)
    return steps


def _of_shoulder(shoulders: Shoulders, number: int, steps: Sequence[Step]) -> list[Step]:
    added = {SHOULDER: number + 1, _ROW: shoulders.rows[number]}
    return [replace(step, extra={**step.extra, **added}) for step in steps]


def _after(reached: Reached, steps: Sequence[Step], infeed: Infeed) -> Reached:
    """Return the dial position and the depth of the cut after some more steps. `reached`: both before these steps."""
    for step in steps:
        if infeed.dial.name in step.zeroed_dials:
            reached = reached._replace(marks=Fraction(0))
        depth_mm = float(step.extra.get(MEASURED_DEPTH, reached.depth_mm))
        setting = step.setting(infeed.dial.name)
        if step.action == "cut" and setting is not None and step.depth_mm is not None:
            reached = Reached(max(reached.marks, infeed.marks_at(setting.position)), step.depth_mm)
        else:
            reached = reached._replace(depth_mm=depth_mm)
    return reached


# Planning again.


def replan_shoulders(
    shoulders: Shoulders, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return new steps that replace the remaining ones. Raises PlanError for an input that a `shoulders` operation
    cannot use.
    """
    number = _number_now(shoulders, lathe, progress, entered)
    cutting, length = shoulders.cuts[number], shoulders.length(number)
    of_it = [step for step in progress.open_steps if step.extra.get(SHOULDER, number + 1) == number + 1]
    own_progress = replace(progress, open_steps=tuple(of_it))
    limits = pass_limits(cutting, cutting.infeed(lathe))
    own = replan_size_cut(cutting, lathe, own_progress, entered, limits)
    is_found_again = any(CARRIAGE in step.zeroed_dials for step in own)
    shift_mm, findings = 0.0 if is_found_again else shift_of(progress), tuple[str, ...]()
    if isinstance(entered, Measured) and entered.what == LENGTH:
        found = length_measured(length, lathe, own_progress, entered)
        shift_mm, findings = found.shift_mm, found.findings
    reached = _after(reached_by(own_progress, cutting.infeed(lathe)), own, cutting.infeed(lathe))
    rest = _planned_from(shoulders, lathe, number + 1, reached, shift_mm)
    if rest and findings and [step.action for step in own] == ["check"]:
        # Another shoulder follows. Its first step shows the findings.
        own, rest[0] = (), replace(rest[0], findings=findings)
    return numbered([*_of_shoulder(shoulders, number, own), *rest], progress.next_id)


def _number_now(shoulders: Shoulders, lathe: Lathe, progress: Progress, entered: RunInput) -> int:
    """Return the index, from 0, of the shoulder from which the remaining steps are planned again."""
    last = len(shoulders.cuts) - 1
    if isinstance(entered, Edited):
        # The list may have changed, so the first shoulder with metal left is next.
        infeed = shoulders.cuts[0].infeed(lathe)
        depth_mm = progress.depth_at_dial_mm(infeed)
        left = (at for at, cutting in enumerate(shoulders.cuts) if cutting.total_mm - depth_mm > infeed.mark_mm / 2)
        return next(left, last)
    if isinstance(entered, Measured) and entered.what == LENGTH:
        return _cut_last(shoulders, progress)
    steps = (*progress.open_steps, *reversed(progress.done_steps))
    return min(next((int(step.extra[SHOULDER]) for step in steps if SHOULDER in step.extra), 1) - 1, last)


def _cut_last(shoulders: Shoulders, progress: Progress) -> int:
    """Return the index, from 0, of the shoulder that the last pass cut, to which a measured length belongs."""
    passes = (step for step in reversed(progress.done_steps) if step.action in {"cut", "spring"})
    return min(next((int(step.extra.get(SHOULDER, 1)) for step in passes), 1), len(shoulders.cuts)) - 1


def _questions(shoulders: Shoulders, lathe: Lathe, state: State) -> tuple[Asked, ...]:
    size, _ = size_cut_questions(_cut_now(shoulders, lathe, state), lathe, state)
    length = shoulders.length(_cut_last(shoulders, state.progress))
    return size, length_asked(length, lathe, state.progress)


def _moved(shoulders: Shoulders, lathe: Lathe, state: State) -> Asked | None:
    return size_cut_moved(_cut_now(shoulders, lathe, state), lathe, state)


def _cut_now(shoulders: Shoulders, lathe: Lathe, state: State) -> SizeCut:
    return shoulders.cuts[_number_now(shoulders, lathe, state.progress, Moved())]


def _movements(
    shoulders: Shoulders, lathe: Lathe
) -> Callable[[Step, ZeroedDials, tuple[int, int]], tuple[str, ...]] | None:
    def movements(step: Step, dials: ZeroedDials, starts: tuple[int, int]) -> tuple[str, ...]:
        cutting = _cut_of(shoulders, step)
        return pass_movements(cutting, cutting.along, lathe, step, dials, starts) if cutting.along else ()

    return movements


def _cut_of(shoulders: Shoulders, step: Step) -> SizeCut:
    return shoulders.cuts[min(int(step.extra.get(SHOULDER, 1)), len(shoulders.cuts)) - 1]


def _wanted_mm(shoulders: Shoulders, cut: Step, measured: Measured) -> tuple[float, float]:
    """Return the smallest and the largest wanted value [mm] of a diameter or length that was measured after a pass."""
    cutting = _cut_of(shoulders, cut)
    if measured.what == LENGTH and cutting.along:
        return cutting.along.ends_mm, cutting.along.ends_mm
    if cutting.wanted is None:
        return cutting.to_mm, cutting.to_mm
    return float(cutting.wanted.lower_mm), float(cutting.wanted.upper_mm)


def _drawings(shoulders: Shoulders, lathe: Lathe) -> "Callable[[State, Step], Drawing | None]":
    from core.operations.size_cut_drawing import cut_drawings

    return lambda state, step: cut_drawings("turn", _cut_of(shoulders, step), lathe)(state, step)


def _needs(shoulders: Shoulders, lathe: Lathe, figures: Figures) -> Needs:
    tool = "boring tool" if shoulders.cuts[0].outwards else "turning tool"
    return Needs(place="spindle", tool=tool, stop=stop_words(shoulders.length(0), lathe), feeds=True)


# The form.


def _rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    rows: list[Row] = [
        "The sketch: diameters, and lengths from one face",
        Choice(key="side", label="Side", options=(("outside", None), ("inside", "inside"))),
        Entry(
            key="from", label="Diameter now, measured", unit=lathe.unit, required=True, set_on=SET_ON, is_across=True
        ),
    ]
    for number, (diameter, ends_at) in enumerate(_KEYS, start=1):
        first = number == 1
        entry = partial(Entry, unit=lathe.unit, required=first)
        rows.append(
            entry(key=diameter, label=f"Shoulder {number}: diameter", limits=True, set_on=SET_ON, is_across=True)
        )
        rows.append(entry(key=ends_at, label=f"Shoulder {number}: ends at", set_on=(CARRIAGE,)))
    face = Entry(key="zero_face", label="Which face", hint="(the end face)", longest=40)
    return (*rows, face, lengths_by(lathe, table), *how_to_cut(lathe), *set_up_rows())


def _as_fields(table: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return a copy of the operation's table in which each diameter and each length has a key of its own."""
    fields = {key: value for key, value in table.items() if key != "shoulders"}
    listed = table.get("shoulders", ())
    for keys, pair in zip(_KEYS, listed if isinstance(listed, list | tuple) else (), strict=False):
        if isinstance(pair, list | tuple):
            fields.update(zip(keys, map(str, pair), strict=False))
    return fields


def _as_table(fields: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return a copy of the form's texts in which the shoulders are one list of pairs, without empty pairs."""
    of_list = {key for keys in _KEYS for key in keys}
    table = {key: value for key, value in fields.items() if key not in of_list}
    pairs = [[str(fields.get(key, ""))[:LONGEST_ENTRY] for key in keys] for keys in _KEYS]
    return {**table, "shoulders": [pair for pair in pairs if any(pair)]}


def _spare(texts: Mapping[str, str]) -> set[str]:
    """Return the keys of the rows that the form hides: all rows after the first empty one."""
    used = [at for at, keys in enumerate(_KEYS) if any(texts.get(key) for key in keys)]
    return {key for keys in _KEYS[max(used, default=-1) + 2 :] for key in keys}


def _name(shoulders: Shoulders, lathe: Lathe) -> str:
    what = "Bore" if shoulders.cuts[0].outwards else "Turn"
    if len(shoulders.cuts) == 1:
        return f"{what} one shoulder"
    return f"{what} {len(shoulders.cuts)} shoulders"


def _summary(shoulders: Shoulders, lathe: Lathe, plan: Plan) -> str:
    return f"{len(shoulders.cuts)} shoulders in {plan.figures['passes']} cuts, starting with the longest."


def _figures(shoulders: Shoulders, lathe: Lathe, plan: Plan) -> Iterator[Figure]:
    yield Figure("From", lathe.length_text(shoulders.cuts[0].from_mm) + " diameter")
    for row, cutting, length in zip(shoulders.rows, shoulders.cuts, shoulders.lengths, strict=True):
        ends = f"ends {lathe.length_text(length.ends_mm)} from {length.face}"
        if length.by == DIAL:
            carriage = lathe.dial(CARRIAGE)
            ends += f": carriage {carriage.setting_text(carriage.at_travel(length.ends_mm))}"
        yield Figure(f"Shoulder {row}", cutting.wanted_words(lathe), ends)
    yield Figure("Lengths by", shoulders.length(0).by)
    yield from cut_figures(plan, "cross_slide", lathe)


def _hints(shoulders: Shoulders, lathe: Lathe) -> Mapping[str, str]:
    return {"finish": lathe.length_text(shoulders.cuts[0].finish_mm)}


_HELP = (
    "This form plans a stepped shaft or bore from a sketch. Enter each diameter and how far from the face it ends. "
    "Measure all lengths from the same face. A new row appears when the last row is filled in. Press F6 for the "
    "figures, F5 to start, F4 to save.\n\n"
    "The longest shoulder is always cut first, in whatever order you enter the rows. You touch off once on the face "
    "and once on the blank. The counter shows where each pass ends: at a reading of the carriage dial, at a stop or "
    "at a scribed line. One stop is enough for all shoulders. Spacers against the stop give the shorter lengths.\n\n"
    "With the carriage dial, each pass but the last stops short of the shoulder by the depth of the finishing cut. "
    "The last pass cleans the shoulder. When you enter a measured diameter or length, it corrects all later "
    "shoulders.\n\n"
    "The form refuses a shoulder that would undercut another one. Cut such a shoulder as a groove, or from the other "
    "end."
)
SHOULDERS = Operation(
    read=read_shoulders,
    steps=count_shoulders,
    plan=plan_shoulders,
    replan=replan_shoulders,
    questions=_questions,
    moved=_moved,
    movements=_movements,
    has_spring_passes=True,
    drawings=_drawings,
    # All shoulders start from the same blank, with the same infeed.
    measured_cut=lambda shoulders, lathe, material: SizeCutAtLathe(shoulders.cuts[0], lathe),
    wanted_mm=_wanted_mm,
    needs=_needs,
    set_up_keys=SET_UP_KEYS,
    form=Form(
        rows=_rows,
        name=_name,
        summary=_summary,
        figures=_figures,
        help=_HELP,
        hints=_hints,
        as_fields=_as_fields,
        as_table=_as_table,
        spare=_spare,
    ),
)
