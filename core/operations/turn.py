"""Turning a diameter, and the form of declaration that turning, facing and grooving have in common."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Literal

from core.cutting import Progress
from core.events.state import State
from core.inputs import RunInput
from core.lathe.lathe import Lathe
from core.operations.fine_infeed import KEY, read_fine_infeed
from core.operations.form import Form
from core.operations.lengths import read_cut_length, stop_words
from core.operations.operation import SET_UP_KEYS, DrawingsOf, Figures, Needs, Operation
from core.operations.size_cut import SizeCut, count_size_cut, plan_size_cut, read_pass_depths
from core.operations.size_cut_form import TURN_FORM
from core.plan import Step
from core.values.dials import ZeroedDials
from core.values.fields import Table

if TYPE_CHECKING:
    from core.drawing import Drawing
    from core.questions import Asked
    from core.replanning import MeasuredCut


def read_turn(table: Table, lathe: Lathe) -> SizeCut | None:
    """Return the cut of a `turn` operation; None if an entry is wrong. Errors are added to `table.problems`."""
    before = len(table.problems)
    side = table.word("side", ("outside", "inside")) or "outside"
    start = table.length("from", required=True, above=0)
    wanted = table.wanted_size("to", required=True, above=0)
    sizes = read_pass_depths(table, lathe)
    along = read_cut_length(table, lathe, inside=side == "inside")
    fine = read_fine_infeed(table, lathe, "bore" if side == "inside" else "outside")
    if fine and along:
        table.problem(KEY, f'A fine infeed also moves the tool along the work. Delete "ends_at" or "{KEY}".')
    if len(table.problems) > before or start is None or wanted is None or sizes is None:
        return None
    end = wanted.middle_mm
    if (end >= start) if side == "outside" else (end <= start):
        smaller = "smaller" if side == "outside" else "larger"
        table.problem(
            "to",
            f"{wanted.text if wanted.has_limits else lathe.length_text(end)} is not {smaller} than the present "
            f"diameter, {lathe.length_text(start)}. On the {side}, enter a {smaller} diameter.",
        )
        return None
    cut, finish = sizes
    return SizeCut(
        "compound" if fine else "cross_slide",
        start,
        end,
        cut,
        finish,
        measured="diameter",
        outwards=end > start,
        wanted=wanted if wanted.has_limits else None,
        along=along and along._replace(short_mm=finish),
        fine=fine,
        set_up=(fine.swing(lathe),) if fine else (),
        pass_movements=fine.movements(lathe) if fine else (),
    )


def _needs(cutting: SizeCut, lathe: Lathe, figures: Figures) -> Needs:
    tool = "boring tool" if cutting.in_a_bore else "turning tool"
    compound = cutting.fine.needed_words() if cutting.fine else ""
    return Needs(place="spindle", tool=tool, compound=compound, stop=stop_words(cutting.along, lathe), feeds=True)


def cut_in_passes(
    read: Callable[[Table, Lathe], SizeCut | None],
    needs: Callable[[SizeCut, Lathe, Figures], Needs],
    form: Form | None = None,
    drawings: DrawingsOf | None = None,
) -> Operation:
    """Return the declaration of an operation that cuts to a size in passes.

    `read`: returns the cut that a table states. `needs`: returns the set-up of the lathe that the cut needs. `form` and
    `drawings`: None if the kind of operation has none.
    """
    return Operation(
        read=read,
        steps=count_size_cut,
        plan=plan_size_cut,
        replan=_replan,
        questions=_questions,
        moved=_moved,
        movements=_movements,
        has_spring_passes=True,
        needs=needs,
        form=form,
        drawings=drawings,
        measured_cut=_measured_cut,
        set_up_keys=SET_UP_KEYS,
    )


# Drawings, replanning and questions are loaded when they are first needed.


def drawn_as(
    kind: Literal["turn", "face", "groove"], cutting: SizeCut, lathe: Lathe
) -> Callable[[State, Step], "Drawing | None"]:
    """Return the function that draws each step of a cut. `kind`: what is cut, a turned diameter, a face or a groove."""
    from core.operations.size_cut_drawing import cut_drawings

    return cut_drawings(kind, cutting, lathe)


def _replan(
    cutting: SizeCut, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    from core.operations.size_cut_replanning import replan_size_cut

    return replan_size_cut(cutting, lathe, progress, entered)


def _questions(cutting: SizeCut, lathe: Lathe, state: State) -> "tuple[Asked, ...]":
    from core.operations.size_cut_replanning import size_cut_questions

    return size_cut_questions(cutting, lathe, state)


def _moved(cutting: SizeCut, lathe: Lathe, state: State) -> "Asked | None":
    from core.operations.size_cut_replanning import size_cut_moved

    return size_cut_moved(cutting, lathe, state)


def _measured_cut(cutting: SizeCut, lathe: Lathe, material: str | None) -> "MeasuredCut":
    from core.operations.size_cut_replanning import SizeCutAtLathe

    return SizeCutAtLathe(cutting, lathe)


def _movements(
    cutting: SizeCut, lathe: Lathe
) -> Callable[[Step, ZeroedDials, tuple[int, int]], tuple[str, ...]] | None:
    from core.operations.length_movements import size_cut_movements

    return size_cut_movements(cutting, lathe)


TURN = cut_in_passes(read_turn, _needs, TURN_FORM, partial(drawn_as, "turn"))
