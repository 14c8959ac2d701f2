"""One tool of a hole, fed by the dial in pecks, from touch-off on the face to full depth. Lengths are in mm.

Depths count from the face to the tool's tip. The dial's zero may be at another depth. In a hole already started, a
drill touches off with the corners of its lips. At that moment, the depth of the tip is the length of the drill's point.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import islice

from core import safety
from core.cutting import Infeed, Progress, cut_steps, rounding_note, touch_off_step, with_measured_depth
from core.inputs import Measured, nothing_planned_from
from core.lathe.lathe import Lathe, dial_words
from core.operations.drilling.hole import Hole, HoleTool
from core.operations.size_cut import TO_CHUCK
from core.plan import MOST_STEPS, Expects, Step
from core.replanning import Follows, Measurement, Reached, TouchedOff, from_zero, nearest_mark, unexpected_words
from core.values.errors import PlanError

MEASURED = "hole depth"
"""The name of a measured depth, for each end of the hole that a job can measure to."""
TOOL = "tool"
"""The entry of `Step.extra` with the key of the step's tool."""
_USUAL_ERROR_MM = 0.5
"""How far a depth may differ from the dial's depth without a finding: corners are touched off by eye."""


@dataclass(frozen=True)
class ToolCut:
    """The work of one tool of a hole on one lathe: its steps, and new plans for its remaining steps."""

    hole: Hole
    lathe: Lathe
    place: int
    """The index of the tool in the hole, from 0."""

    @property
    def tool(self) -> HoleTool:
        """The tool that does this work."""
        return self.hole.tools[self.place]

    @cached_property
    def infeed(self) -> Infeed:
        """The infeed of this tool, which uses the hole's dial."""
        return Infeed(dial=self.lathe.dial(self.hole.dial))

    @property
    def is_last_drill(self) -> bool:
        """True if this tool is the hole's last drill, after which the depth of the hole is measured."""
        return self.tool == self.hole.last_drill

    def steps(self) -> list[Step]:
        """Return all steps of the tool, from fitting it to its last check."""
        return self.of_tool([self.fit(), *from_zero(self, 0.0, "")])

    def of_tool(self, steps: Iterable[Step]) -> list[Step]:
        """Return `steps` with the tool's key added to `Step.extra`, and to each cut also its direction, towards the
        chuck.
        """
        own, cut = {TOOL: self.tool.key}, {"direction": TO_CHUCK}
        return [replace(step, extra={**step.extra, **(cut if step.depth_mm else {}), **own}) for step in steps]

    def count(self) -> int:
        """Return the number of the tool's steps, without creating the steps."""
        reached = self._after_touching_off(Reached(self.touched_off(0.0).marks, 0.0))
        pecks = self._deepest_pecks(reached.marks, self.last_mark(reached), reached.depth_mm)
        return 2 + sum(1 for _ in islice(pecks, MOST_STEPS)) + (self.is_last_drill or self.tool.kind == "reamer")

    # Steps.

    def fit(self) -> Step:
        """Return the step in which the turner fits the tool and brings it up to the work."""
        rpm, name = self.hole.listed_rpm(self.tool, self.lathe), self.tool.name
        speed = " Set half the spindle speed of a drill of this size." if self.tool.kind == "reamer" else ""
        if rpm is not None:
            speed = f" Spindle speed {rpm:g} rpm."
        text = (
            f"{safety.STOP_FIRST} Fit the {name} in the tailstock, with the quill wound in. Bring the {name} up to the "
            f"work and lock the tailstock to the bed.{speed}"
        )
        return Step(action="set", title=f"Fit the {name}", text=text.removesuffix("."), cautions=(safety.DRILL_HELD,))

    def touched_off(self, depth_mm: float) -> TouchedOff:
        """Return the step that sets the dial's zero for this tool. `depth_mm`: the depth of the hole so far [mm]."""
        dial, name, strip_mm = self.infeed.dial, self.tool.name, self.hole.strip_mm
        quill = f"{dial_words(dial.name).capitalize()}: feed the {name}"
        cuts, caution, last = False, "", f"Withdraw the {'reamer' if self.tool.kind == 'reamer' else 'drill'}"
        if self.tool.kind == "reamer":
            words, zero_mm = f"{safety.STOP_FIRST} {quill} until its end just meets the edge of the hole", 0.0
        elif strip_mm is not None:
            strip = self.lathe.length_text(strip_mm)
            held = f"Hold a flat strip {strip} thick against the face"
            words = f"{safety.STOP_FIRST} {held}. {quill} until its tip just touches the strip"
            zero_mm, caution, last = -strip_mm, safety.STRIP_OUT, f"{last} and take the strip out"
        elif self._meets_bare_face and not depth_mm:
            words, zero_mm = f"{safety.STOP_FIRST} {quill} until its tip just touches the face", 0.0
            caution = safety.TOUCH_OFF
        elif not self.tool.point_mm:
            words, zero_mm = f"{safety.STOP_FIRST} {quill} until its tip just touches the bottom of its hole", depth_mm
        else:
            cuts = depth_mm < self.tool.point_mm
            spindle = "Spindle on. " if cuts else "Spindle stopped. "
            words = f"{spindle}{quill} until its full diameter just reaches the face"
            words += ". Stop the spindle" if cuts else ""
            zero_mm, caution = self.tool.point_mm, safety.DRILL_START if cuts else ""
        step = touch_off_step(dial, words)
        step = replace(step, text=f"{step.text}. {last}", cautions=(caution,) if caution else ())
        if depth_mm:
            step = with_measured_depth(step, depth_mm)
        return TouchedOff([step], self.infeed.marks_deep(depth_mm - zero_mm))

    @property
    def _meets_bare_face(self) -> bool:
        """True if the tool is the first to drill the face."""
        return self.place == 0 and self.hole.starter is None

    def last_mark(self, reached: Reached) -> int:
        """Return the dial mark nearest to the tool's final depth.

        In a hole through the work, return the first mark at or beyond this depth. `reached`: the position and depth of
        the tool so far.
        """
        if self.hole.through_mm is None:
            return nearest_mark(self.infeed, reached, self.tool.depth_mm)
        further = Fraction((self.tool.depth_mm - reached.depth_mm) / self.infeed.mark_mm - 1e-6)
        return math.ceil(reached.marks + further)

    def passes(self, reached: Reached, last: int, follows: Follows) -> list[Step]:
        """Return the pecks from the present depth to the dial mark `last`.

        `reached`: the position and depth of the tool so far. `follows`: whether a measurement or a peck comes right
        before; "" for neither.
        """
        from_marks, depth_mm = self._after_touching_off(reached)
        exact_mm = self.infeed.depth_mm(from_marks) + self.tool.depth_mm - depth_mm
        steps = cut_steps(
            self.infeed,
            self._peck_ends(from_marks, last, depth_mm),
            name=self.tool.name[:1].upper() + self.tool.name[1:],
            from_marks=from_marks,
            start_depth_mm=depth_mm,
            last_marks=last,
            last_exact_depth_mm=exact_mm,
        )
        caution = safety.REAM_FORWARD if self.tool.kind == "reamer" else safety.DRILL_CHIPS
        steps = [replace(step, cautions=(caution,)) for step in steps]
        if self.hole.through_mm is not None and self.tool.kind == "drill":
            steps[-1] = replace(steps[-1], cautions=(safety.DRILL_THROUGH,))
        return steps

    def _after_touching_off(self, reached: Reached) -> Reached:
        """Return the position and depth of the tool after it has touched off.

        If the dial's zero is deeper than the hole, touching off itself drills to that zero. `reached`: the position and
        depth of the tool so far.
        """
        if reached.marks >= 0:
            return reached
        return Reached(Fraction(0), reached.depth_mm - self.infeed.depth_mm(reached.marks))

    def _peck_ends(self, first: Fraction, last: int, depth_mm: float) -> list[int]:
        """Return the dial mark at the end of each peck. All pecks are shortened alike, so that none is very small.

        No peck is longer than the limit at the depth where it starts. `first`: the dial mark from which the pecks
        start. `last`: the dial mark at which they end. `depth_mm`: the depth of the tip at `first` [mm].
        """
        start, deepest = math.floor(first), list(self._deepest_pecks(first, last, depth_mm))
        if not deepest:
            return []
        total, whole = last - start, deepest[-1] - start
        return [start + (2 * (end - start) * total + whole) // (2 * whole) for end in deepest]

    def _deepest_pecks(self, first: Fraction, last: int, depth_mm: float) -> Iterator[int]:
        """Yield the dial mark at the end of each peck, if every peck is as long as the limit at the depth where it
        starts.

        The last peck ends at `last` or beyond that mark. A reamer goes to `last` in one feed. `first`: the dial mark
        from which the pecks start. `depth_mm`: the depth of the tip at `first` [mm].
        """
        at = math.floor(first)
        while at < last:
            if self.tool.kind == "reamer":
                yield last
                return
            at += self._peck_marks(depth_mm + self.infeed.depth_mm(at - first))
            yield at

    def _peck_marks(self, depth_mm: float) -> int:
        """Return the length of the longest peck that may start at a depth [mm], in dial marks."""
        tool = self.tool
        part = min(max(depth_mm / tool.depth_mm, 0.0), 1.0)
        allowed_mm = tool.peck_mm + part * (tool.last_peck_mm - tool.peck_mm)
        return max(1, math.floor(allowed_mm / self.infeed.mark_mm + 1e-9))

    def ended(self, passes: list[Step], reached: Reached, last: int) -> list[Step]:
        """Return the given pecks, followed by the check or measurement that ends the tool's work.

        `reached`: the position and depth of the tool before the pecks. `last`: the dial mark of the last peck.
        """
        if self.tool.kind == "reamer":
            return [*passes, self._try_bore()]
        if not self.is_last_drill:
            return passes
        if self.hole.through_mm is not None:
            return [*passes, self._look_through()]
        return [*passes, self._measure(self._note(reached, last))]

    def _note(self, reached: Reached, last: int) -> str:
        exact_mm = self.infeed.depth_mm(reached.marks) + self.tool.depth_mm - reached.depth_mm
        return rounding_note(self.infeed, last, exact_mm, False, self.lathe.length_text)

    def _measure(self, note: str) -> Step:
        rod = "with a thin rod in the middle" if self.measures_to_point else "with a rod that just fits"
        wanted = self._measured_text(self.tool.depth_mm)
        text = (
            f"{safety.STOP_FIRST} Clear the chips. Measure the depth to {self._end_words} {rod}, and enter the depth. "
            f"Wanted: {wanted}"
        )
        text = f"{text}. {note.removesuffix('.')}" if note else text
        return Step(
            action="measure", title="Measure the depth", text=text, expects=Expects.SIZE, cautions=(safety.BORE,)
        )

    def _look_through(self) -> Step:
        text = f"{safety.STOP_FIRST} Check that the full diameter is through. Then deburr both ends by hand"
        return Step(action="check", title="Look through the hole", text=text, cautions=(safety.BORE,))

    def _try_bore(self) -> Step:
        text = f"{safety.STOP_FIRST} Clear the chips. Try the bore with a plug gauge or the mating part"
        return Step(action="check", title="Try the bore", text=text, cautions=(safety.BORE,))

    # Steps planned again.

    def nothing_left(self, reached: Reached) -> list[Step]:
        """Return the step shown in place of pecks if the tool is already deep enough.

        The text of the step gives the depth of the hole. `reached`: the position and depth of the tool so far.
        """
        off_mm, length_text = reached.depth_mm - self.tool.depth_mm, self.lathe.length_text
        off = (
            f", {length_text(abs(off_mm))} {'deeper' if off_mm > 0 else 'shallower'} than wanted"
            if abs(off_mm) > 5e-4
            else ""
        )
        depth = length_text(self._measured_mm(reached.depth_mm))
        text = f"Depth to {self._end_words}: {depth}{off}. Drill no deeper with the {self.tool.name}"
        return [with_measured_depth(Step(action="check", title="Deep enough", text=text), reached.depth_mm)]

    def amount_text(self, depth_mm: float) -> str:
        """Return a difference of depth [mm] as text, in the lathe's unit."""
        return self.lathe.length_text(depth_mm)

    def measured(self, size: Measured, progress: Progress) -> Measurement:
        """Return the depth of the tool's tip that follows from a measured depth. Raise PlanError for an impossible
        depth.
        """
        if size.what != MEASURED:
            raise nothing_planned_from(size)
        if not progress.last_id:
            raise PlanError(
                f"The {self.tool.name} has not drilled yet. Measure after its first peck.", field="measured"
            )
        depth_mm = size.size_mm + (0.0 if self.measures_to_point else self.tool.point_mm)
        most_mm = 2 * self.tool.depth_mm
        if depth_mm > most_mm:
            most, wanted = (self.lathe.length_text(self._measured_mm(mm)) for mm in (most_mm, self.tool.depth_mm))
            words = f"A depth of {self.lathe.length_text(size.size_mm)} cannot be right for a hole {wanted} deep"
            raise PlanError(f"{words}. Enter at most {most}.", field="measured")
        usual_mm = max(_USUAL_ERROR_MM, 2 * self.infeed.mark_mm)
        return Measurement(depth_mm, unexpected_words(self, progress, depth_mm, usual_mm, self._measured_text))

    @property
    def measures_to_point(self) -> bool:
        """True if the hole's depth is measured to the tip of this tool, False if it is measured to the tool's full
        diameter.
        """
        return self.hole.depth_to == "point" or not self.tool.point_mm

    @property
    def _end_words(self) -> str:
        if not self.tool.point_mm:
            return "the bottom"
        return "the point" if self.measures_to_point else "the full diameter"

    def _measured_mm(self, depth_mm: float) -> float:
        return depth_mm - (0.0 if self.measures_to_point else self.tool.point_mm)

    def _measured_text(self, depth_mm: float) -> str:
        return self.lathe.length_text(self._measured_mm(depth_mm))

    def question_words(self) -> tuple[str, str]:
        """Return the question that asks for the measured depth, and a sentence that states the wanted depth."""
        return (
            f"How deep is the hole now, measured to {self._end_words}?",
            f"Wanted: {self._measured_text(self.tool.depth_mm)}.",
        )
