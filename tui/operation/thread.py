"""The form for threading: the thread, the blank, the tool, positions along the axis, and the method of cutting."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

from textual.containers import Vertical
from textual.widget import Widget
from textual.widgets import Static

from core.lathe.lathe import CARRIAGE
from core.operations.form import MATERIAL, Choice, Entry, Figure, Row, set_up_rows
from core.operations.natural_step import COMPOUND_SCALE
from core.operations.threads.job import ThreadJob
from core.plan import Plan
from core.values.angles import angle_text
from tui.operation.form import OperationForm
from tui.operation.results import FIELDS, FIGURES, PICTURES, STEPS
from tui.operation.screen import OperationScreen
from tui.operation.thread_figures import further_figures, last_reading, main_figures
from tui.operation.thread_sketches import LEGEND, CompoundSketch, ProfileSketch

_BY_NAME, _BY_SIZE = "its name", "angle and sizes"
_USUAL, _FLAT, _ROUND = "as usual", "flat", "rounded"
_CROSS_SLIDE = ("cross_slide",)
"""The name of the dial on which diameters and depths are set."""
_FORMS = ("60 deg", "55 deg", "47.5 deg", "30 deg", "29 deg")


class ThreadScreen(OperationScreen):
    """The form for a `thread` operation, which cuts an external or an internal thread."""

    HELP = (
        "This form plans a thread: depth, compound, passes, gears and measurements. Enter the name of the thread "
        "from the drawing, such as M30x3.5-6g, and the measured diameter of the blank. Press F6 to see the figures, "
        "F5 to start, or F4 to save."
    )
    MORE_HELP = (
        "Other names: 1 1/4-8 UN-2A, 1/2 BSW, G1/2 A, BA 4, Tr20x4-7e, 3/4-6 Acme-2G. Add LH for a left-hand thread. "
        "M24xPh6P3 has two starts. Instead of a name, you can enter the angle, the major diameter and the pitch.\n\n"
        "The class at the end of a name sets the limits of size. Outside threads have classes such as 6g, 7e or 2A, "
        "and inside threads have classes such as 6H, 7H or 2B. If you enter no class, the form uses the usual "
        "class.\n\n"
        "The percentage of a tapping drill is a share of a full depth of thread on the radius. H is the height of "
        "the sharp V, which is 0.866 of the pitch. Tap charts take 3H/4 as the full depth, and the basic profile has "
        "5H/8.\n\n"
        "A number without a unit is taken in the unit shown after the field. You can also type 1 1/4 in, 15 thou or "
        "8 tpi. The value in brackets applies if you leave a field empty. Press + or - to change a choice.\n\n"
        "Depths are on the radius and count from the measured blank. Cut a left-hand thread towards the tailstock, "
        "so that the spindle turns forward.\n\n"
        "Positions along the axis count from one face towards the chuck. Set the carriage dial to 0 with the tip "
        "level with that face. The relief starts at the end of the thread, and the shoulder at the end of the "
        "relief, unless you enter other positions. Every pass then shows where to stop.\n\n"
        "The usual tip is sharp. For trapezoidal and 29 degree threads, the usual tip has the flat width given in "
        "the standard.\n\n"
        "The compound angle is measured from a line square to the spindle axis. The figures also show the reading of "
        "your compound's scale."
    )
    TERMS = (
        "compound", "compound angle", "half nuts", "infeed", "lead", "limits", "pitch", "pitch diameter", "relief",
        "spring pass", "thread dial", "wires",
    )  # fmt: skip
    PAGES = (FIELDS, FIGURES, STEPS, PICTURES)

    def __init__(self, parameters: Mapping[str, Any] | None = None) -> None:
        """Make the form.

        `parameters`: a `thread` operation's keys and values, which fill the fields; None for a new operation.
        """
        super().__init__("thread", parameters)

    def rows(self) -> Sequence[Row]:
        """Return the form's headings and fields, in the order in which a turner fills them in."""
        unit = self.context.lathe.unit
        return (
            "Which thread",
            *self._which(unit),
            "Blank",
            Entry(key="blank", label="Blank or bore", unit=unit, set_on=_CROSS_SLIDE, is_across=True),
            MATERIAL,
            "The tool",
            Choice(key="tip", label="Tip of the tool", options=_screen_words(_USUAL, _FLAT, _ROUND), start=self._tip()),
            Entry(key="tool_flat", label="Width of the flat", unit=unit, required=True),
            Entry(key="tool_radius", label="Radius of the tip", unit=unit, required=True),
            "Relief (undercut) and positions along the axis",
            Choice(key="runs", label="Cut towards", options=(("the chuck", None), ("the tailstock", "from the chuck"))),
            Entry(key="relief", label="Relief width", unit=unit, hint="(none)"),
            Entry(
                key="relief_diameter",
                label="Relief diameter",
                unit=unit,
                hint="(not set)",
                set_on=_CROSS_SLIDE,
                is_across=True,
            ),
            Entry(key="length", label="Thread length", unit=unit, hint="(not set)"),
            Entry(key="zero_face", label="Carriage dial 0 at", hint="(the end face)", longest=40),
            Entry(key="thread_at", label="Thread starts at", unit=unit, hint="(that face)", set_on=(CARRIAGE,)),
            Entry(
                key="relief_at", label="Relief starts at", unit=unit, hint="(where the thread ends)", set_on=(CARRIAGE,)
            ),
            Entry(key="shoulder_at", label="Shoulder or bottom at", unit=unit, hint="(not set)", set_on=(CARRIAGE,)),
            "How to cut",
            *self._how(unit),
            *set_up_rows(speed=False),
        )

    def _which(self, unit: str) -> tuple[Row, ...]:
        own = any(key in self.initial for key in ("form", "major", "pitch"))
        by = Choice(
            key="by",
            label="Described by",
            options=_screen_words(_BY_NAME, _BY_SIZE),
            start=_BY_SIZE if own else _BY_NAME,
        )
        return (
            Entry(key="thread", label="Thread", hint="such as M30x3.5-6g", required=True),
            by,
            Choice(key="form", label="Angle of the thread", options=tuple((form, form) for form in _FORMS)),
            Entry(key="major", label="Major diameter", unit=unit, required=True),
            Entry(key="pitch", label="Pitch", unit="tpi" if unit == "in" else "mm", required=True),
            Choice(key="side", label="Side", options=(("by class", None), ("outside",) * 2, ("inside",) * 2)),
        )

    def _how(self, unit: str) -> tuple[Row, ...]:
        return (
            Choice(key="infeed", label="Infeed", options=(("as usual", None), ("flank",) * 2, ("straight",) * 2)),
            Entry(key="compound_angle", label="Compound angle", unit="deg", set_on=(COMPOUND_SCALE,)),
            Entry(key="passes", label="Cutting passes", whole=True),
            Entry(key="deepest_pass", label="Deepest pass", unit=unit, set_on=_CROSS_SLIDE),
            Entry(key="lightest_pass", label="Lightest pass", unit=unit, set_on=_CROSS_SLIDE),
            Entry(key="spring_passes", label="Spring passes", whole=True),
            Entry(key="speed", label="Spindle speed", unit="rpm", hint="(not set)"),
            Entry(key="wire", label="Measuring wire", unit=unit),
        )

    def _tip(self) -> str:
        return _FLAT if "tool_flat" in self.initial else _ROUND if "tool_radius" in self.initial else _USUAL

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return the keys of fields that the form hides, because they do not apply to this thread, tool or infeed."""
        by_size = form.chosen("by") == _BY_SIZE
        tip = form.chosen("tip")
        unused = {"thread"} if by_size else {"form", "major", "pitch"}
        unused |= {key for key, word in (("tool_flat", _FLAT), ("tool_radius", _ROUND)) if tip != word}
        return unused | ({"compound_angle"} if form.chosen("infeed") == "straight" else set())

    def suggested_name(self) -> str:
        """Return a suggested name for the operation, with the thread's designation."""
        return f"Thread {self.entered.thread.designation}" if isinstance(self.entered, ThreadJob) else "Thread"

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return, by field key, the values that the plan uses for empty fields. The form shows these in brackets."""
        job, length_text, figures = self.entered, self.context.lathe.length_text, plan.figures
        rpm, wire_mm = figures.get("speed_rpm"), figures.get("wire_mm")
        place = job.place
        return {
            "zero_face": place.zero_face,
            "length": "" if place.length_mm is None else length_text(place.length_mm),
            "relief_at": "" if place.relief_at_mm is None else length_text(place.relief_at_mm),
            "shoulder_at": "" if place.shoulder_at_mm is None else length_text(place.shoulder_at_mm),
            "blank": length_text(job.blank_mm),
            "compound_angle": "" if job.compound_angle_deg is None else angle_text(job.compound_angle_deg),
            "passes": str(figures["passes"]),
            "deepest_pass": length_text(job.limits.deepest_mm),
            "lightest_pass": length_text(job.limits.lightest_mm),
            "spring_passes": str(job.spring_passes),
            "speed": "" if rpm is None else f"{rpm:g} rpm",
            "wire": "" if wire_mm is None else length_text(wire_mm),
        }

    def summary(self, plan: Plan) -> str:
        """Return a sentence with the depth, the number of passes and the last setting of the infeed dial."""
        job, lathe = self.entered, self.context.lathe
        deep = lathe.length_text(job.groove.depth_mm)
        return f"{deep} deep in {plan.figures['passes']} passes. The last pass: {last_reading(plan, job, lathe)}."

    def figures(self, plan: Plan) -> Iterator[Figure]:
        """Return the figures about a thread's limits, depth and settings."""
        return main_figures(plan, self.entered, self.context.lathe)

    def further_figures(self, plan: Plan) -> Iterator[Figure]:
        """Return the figures about the tool, stopping, measuring, change gears and holes."""
        return further_figures(plan, self.entered, self.context.lathe)

    def pictures(self) -> Sequence[Widget]:
        """Return two pictures with a legend: the compound from above, and the profile of the thread."""
        sketches = Vertical(CompoundSketch(id="compound"), ProfileSketch(id="profile"), id="sketches")
        return (sketches, Static(LEGEND, id="legend", markup=False))

    def show_pictures(self) -> None:
        """Draw both pictures for the present plan; clear them if there is no plan."""
        compound, profile = self.query_one(CompoundSketch), self.query_one(ProfileSketch)
        if self.plan is None:
            compound.show(None)
            profile.show(None)
            return
        compound.show_job(self.entered, self.context.lathe)
        profile.show_job(self.entered)


def _screen_words(*words: str) -> tuple[tuple[str, None], ...]:
    """Return options with these words, for a choice that exists only on screen and is not saved in a job file."""
    return tuple((word, None) for word in words)
