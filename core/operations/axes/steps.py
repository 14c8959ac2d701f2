"""The steps that bring two axes in line with each other. Their order keeps one error from hiding another."""

from collections.abc import Collection, Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from functools import cached_property

from core import safety
from core.cutting import touch_off_step
from core.lathe.lathe import Lathe, how_to_add
from core.operations.asked_values import Ask, AskedAt, asks_for
from core.operations.axes.asks import ERROR_KEPT, FACE_KEPT, again_asks, face_asks, measure_asks
from core.operations.axes.height import (
    AxisError,
    FaceSlope,
    effect_on_pattern,
    error_of,
    face_slope,
    meets_at_mm,
    slip_mm,
    slipped,
    sweep_error_mm,
)
from core.operations.axes.job import AxesJob
from core.operations.axes.stack import Stack, best_stack
from core.operations.runout.job import graduation_of
from core.plan import Expects, Step
from core.values.quantities import number_text

SET_FACE = "Set the face square"
"""Title of the step after the sweep of the face."""
CHECK = "Check what stays"
"""Title of the step with the result."""
_SHIM = ("Shim the foot's edge towards the spindle", "Shim the foot's edge away from the spindle")
"""The correction for a face whose top, or whose bottom, is nearer to the spindle."""
_TURN = ("Turn the foot's near side away from the spindle", "Turn the foot's far side away from the spindle")
POINTS_GOOD_TO_MM = 0.2
"""How closely two points can be brought together by eye [mm]; common practice, no source."""
_HAND = "Keep hands and tools clear. Bring the slide back before you turn spindle or table."


@dataclass(frozen=True)
class AxesAtLathe:
    """An `axes` operation on one lathe, with its errors, its steps and their texts."""

    job: AxesJob
    lathe: Lathe

    @cached_property
    def error(self) -> AxisError | None:
        """The error of the other axis as first measured; None before it has been measured."""
        return error_of(self.job)

    @cached_property
    def error_after(self) -> AxisError | None:
        """The error of the other axis as measured again with the bolts tight; None before it has been measured
        again.
        """
        return error_of(self.job, after=True)

    @cached_property
    def stack(self) -> Stack | None:
        """The stack of owned pieces on which to raise the other axis.

        It is None if there is no need to raise the axis, or if this is not known.
        """
        if self.error is None or not self.error.signed or not self.error.height_mm or self.error.height_mm >= 0:
            return None
        return best_stack(-self.error.height_mm, [*self.lathe.bars_mm, *self.lathe.shims_mm])

    @property
    def graduation_mm(self) -> float:
        """One graduation of the indicator [mm]."""
        return graduation_of(self.lathe)

    # Before measuring.

    def first(self) -> Iterator[Step]:
        """Yield the steps that come before any measurement."""
        yield Step(
            action="check",
            title="Gibs and bed",
            text=f"{safety.STOP_FIRST} Clean and deburr the bed, the slides and the {self.job.other}'s foot. Adjust "
            "the gibs until nothing shakes and nothing binds. Lock the slides that do not move",
        )
        yield Step(
            action="check",
            title="Cross-slide square",
            text="The cross-slide must be square to the spindle. Face a disc and run an indicator on past its "
            "centre, or use the operation Square and parallel. An error here goes into every later step",
        )
        if self.job.is_table:
            yield Step(
                action="check",
                title="Table's face true",
                text="Set an indicator to the table's face and turn the table once round by hand. If the "
                "indicator moves, clean the seat. Then make the face true to the table's own axis",
            )
        if self.job.face_circle_mm is None:
            yield Step(
                action="check",
                title="Face square to the spindle",
                text=f"Sweep the {self.job.other}'s face with an indicator in the spindle, turned by hand. Compare up "
                "with down, and near with far. Shim the foot until all four readings are the same",
                cautions=(safety.TURN_BY_HAND,),
            )

    def points(self) -> Iterator[Step]:
        """Yield the step that brings the two axes in line by eye, then any circles to cut for measuring."""
        text = (
            f"Put a centre in the spindle and a point on the {self.job.other}'s axis. Bring both points together, "
            f"seen from the front and from above. This is good to "
            f"{self.lathe.length_text(POINTS_GOOD_TO_MM)}, so measure afterwards"
        )
        yield Step(action="check", title="Bring two points together", text=text, cautions=(_HAND,))
        yield from self.cut_circles()

    def cut_circles(self) -> Iterator[Step]:
        """Yield the steps that cut two circles on scrap; no steps if the method is not "two circles"."""
        if self.job.method != "two circles":
            return
        cautions = (safety.BEFORE_POWER,)
        yield Step(
            action="check",
            title="Cut the first circle",
            text="Fix scrap on the table and lock it. Set the slide to offset 0. Cut a shallow circle with the "
            "boring head, as large as the scrap allows",
            cautions=cautions,
        )
        yield Step(
            action="check",
            title="Turn the table half a turn",
            text="Withdraw the cutter. Unlock the table, turn it exactly half a turn and lock it again. Move "
            "nothing else",
            cautions=(_HAND,),
        )
        yield Step(
            action="check",
            title="Cut the second circle",
            text="Leave the slide and the boring head as they are. Cut the same circle again. The circles lie apart by "
            "twice the error",
        )

    # The face.

    def face(self, asked: Collection[AskedAt]) -> Iterator[Step]:
        """Yield the steps for sweeping the face that ask for values in `asked`, and the step that shows the result."""
        asks = face_asks(self.job, self.lathe)
        if not asks:
            return
        yield from self.asked(asks, asked)
        slope = face_slope(self.job)
        text = "Shim or scrape until the indicator reads the same at all four positions"
        step = Step(action="read", title=SET_FACE, text=text)
        if slope is not None:
            step = replace(step, text=self._face_words(slope), findings=tuple(self._slip("face_readings")))
            if self._leans(slope) and not self._face_within(slope) and not self._is_kept(FACE_KEPT):
                text = f"{step.text}. Then press Space to sweep the face again"
                step = replace(step, text=text, expects=Expects.SIZE, required=True, extra=asks_for(FACE_KEPT))
        yield step

    def outside_mm(self, at: AskedAt) -> float:
        """Return the size of the error in question [mm]: the face's lean over its circle, or the error measured again.

        `at` selects one of the two. If the error is not known, return 0.
        """
        slope, error = face_slope(self.job), self.error_after
        if at == FACE_KEPT:
            return 0.0 if slope is None else max(abs(slope.up_mm), abs(slope.across_mm))
        return 0.0 if error is None else max(abs(error.height_mm or 0.0), abs(error.near_mm or 0.0))

    def _is_kept(self, at: AskedAt) -> bool:
        """Return True if the user has already accepted an error of this size. `at` selects the face or the error
        measured again.
        """
        kept_mm = self.job.size(at.key)
        return kept_mm is not None and self.outside_mm(at) <= kept_mm + 1e-4

    def _leans(self, slope: FaceSlope) -> bool:
        """Return True if the face leans enough for the indicator to show the lean."""
        return max(abs(slope.up_mm), abs(slope.across_mm)) >= self.graduation_mm / 2

    def _face_within(self, slope: FaceSlope) -> bool:
        """Return True if the face's lean over its circle is within the tolerance; False if it is not, or without a
        tolerance.
        """
        tolerance = self.job.tolerance_mm
        return tolerance is not None and max(abs(slope.up_mm), abs(slope.across_mm)) <= tolerance + 1e-9

    def _face_words(self, slope: FaceSlope) -> str:
        """Return text that says how the face leans, and where and by how much to shim or turn the foot of the table."""
        say, circle, tolerance = (
            self.lathe.indicator_text,
            self.lathe.length_text(slope.circle_mm),
            self.job.tolerance_mm,
        )
        if not self._leans(slope):
            return f"Over {circle} the face is square to the spindle, as far as the indicator shows. Leave the face"
        leans = []
        for nearer_mm, lean_deg, sides, how in (
            (slope.up_mm, slope.up_deg, ("top", "bottom"), _SHIM),
            (slope.across_mm, slope.across_deg, ("near side", "far side"), _TURN),
        ):
            if abs(nearer_mm) >= self.graduation_mm / 2:
                at, angle = (0 if nearer_mm > 0 else 1), number_text(abs(lean_deg), 3)
                leans.append(f"Its {sides[at]} is {say(abs(nearer_mm))} nearer to the spindle ({angle}°)")
                if not self._face_within(slope):
                    leans.append(f"{how[at]} by {self._for_every_100(abs(nearer_mm) / slope.circle_mm)}")
        limit = (
            "" if tolerance is None else f" ({'within' if self._face_within(slope) else 'outside'} {say(tolerance)})"
        )
        leave = ". Leave the face" if self._face_within(slope) else ""
        return f"The face leans over {circle}{limit}. {'. '.join(leans)}{leave}"

    def _for_every_100(self, slope: float) -> str:
        """Return text that states a slope over 100 mm or 10 in of the table's foot, such as "0.06 mm for every 100 mm
        of it".
        """
        over_mm, over = (100.0, "100 mm") if self.lathe.indicator_unit == "mm" else (254.0, "10 in")
        return f"{self.lathe.length_text(slope * over_mm)} for every {over} of it"

    # Measuring, lifting, measuring again.

    def asked(self, asks: Sequence[Ask], asked: Collection[AskedAt]) -> Iterator[Step]:
        """Yield the step of each question in `asks` whose value is in `asked`."""
        return (ask.step() for ask in asks if ask.at in asked)

    def measure(self, asked: Collection[AskedAt]) -> Iterator[Step]:
        """Yield the steps that ask for the first measurement of the values in `asked`."""
        yield from self.asked(measure_asks(self.job, self.lathe), asked)

    def read_again(self, key: str) -> list[Step]:
        """Return the steps that take the readings of a sweep again and say why; [] if no reading has slipped.

        `key`: the key of the readings in the job.
        """
        if not slipped(self.job.four(key), self.graduation_mm):
            return []
        every = (
            *measure_asks(self.job, self.lathe),
            *again_asks(self.job, self.lathe),
            *face_asks(self.job, self.lathe),
        )
        first, *others = (ask.step() for ask in every if ask.at.key == key)
        return [replace(first, findings=tuple(self._slip(key))), *others]

    def _slip(self, key: str) -> list[str]:
        readings = self.job.four(key)
        if readings is None or not slipped(readings, self.graduation_mm):
            return []
        return [self.slip_words(readings)]

    def slip_words(self, readings: tuple[float, float, float, float]) -> str:
        """Return a sentence that explains why one of four readings must have slipped.

        `readings`: up, near, down and far [mm].
        """
        up, near, down, far = readings
        say = self.lathe.indicator_text
        return (
            f"Up and down add up to {say(up + down)}, near and far to {say(near + far)}. The two sums differ by "
            f"{say(slip_mm(readings))}, more than two marks, so a reading slipped. Read all four again."
        )

    def lift(self) -> Iterator[Step]:
        """Yield the steps that bring the axes in line: set the height, set the slide, tighten the bolts."""
        found = [self.found_words(self.error)] if self.error is not None else []
        yield Step(action="read", title="Set the height", text=self.lift_words(), findings=tuple(found))
        yield self._slide_zero()
        yield Step(
            action="check",
            title="Tighten all bolts",
            text=f"Tighten the bolts of stack, foot and {self.job.other} evenly. A stack settles under the bolts, "
            "so measure again",
            cautions=(f"Support the {self.job.other} while its bolts are loose. Keep fingers out from under it.",),
        )

    def found_words(self, error: AxisError) -> str:
        """Return a sentence about an error: whether the other axis is too high or too low, nearer or further away, and
        by how much.
        """
        say = self.lathe.length_text
        height, near = error.height_mm or 0.0, error.near_mm
        if not error.signed:
            return f"The axes are {say(abs(height))} apart in height and {say(abs(near or 0.0))} across."
        words = (
            f"The other axis is {say(abs(height))} too {'high' if height > 0 else 'low'}"
            if height
            else "Both are level"
        )
        if near is not None:
            words += f", {say(abs(near))} {'nearer to you' if near > 0 else 'further away'}" if near else ", in line"
        if self.job.method == "sweep":
            words += f" (± {say(2 * sweep_error_mm(self.graduation_mm))} from the indicator's marks)"
        return f"{words}."

    def lift_words(self) -> str:
        """Return text that says how far to raise or lower the other axis, and on which pieces.

        The text includes the reading at which both axes have the same height.
        """
        error, say = self.error, self.lathe.length_text
        if error is None:
            return "Raise or lower the other axis by the amount calculated from the measurements"
        height = error.height_mm or 0.0
        if not error.signed:
            words = (
                f"If the last circle is higher, raise the other axis by {say(abs(height))}. If not, lower it by as much"
            )
        elif abs(height) < 1e-6:
            words = "Leave the height as it is"
        elif height > 0:
            words = f"Lower the other axis by {say(height)}: it is already too high, so no stack can help"
        else:
            words = f"Raise the other axis by {say(-height)}. {self.stack_words()}"
        return f"{words}. {self.meet_words()}" if self.meet_words() else words

    def stack_words(self) -> str:
        """Return text that gives the stack, the remaining gap, and the plate that would fill the gap; "" if there is no
        stack.
        """
        stack, say = self.stack, self.lathe.length_text
        if stack is None:
            return ""
        if not self.lathe.bars_mm and not self.lathe.shims_mm:
            return f"Make a plate of {say(stack.left_mm)}. No bars or shims are known: {how_to_add('[stock]')}"
        pieces = " + ".join(map(say, stack.pieces_mm)) or "none of your pieces"
        words = f"Stack: {pieces}"
        if stack.plate_mm is None:
            return f"{words}, exactly"
        rest = f"{say(abs(stack.left_mm))} {'too low' if stack.left_mm > 0 else 'too high'}"
        return f"{words}, {rest}. A plate of {stack.plate_words(say)} would be exact"

    def meet_words(self) -> str:
        """Return text that gives the reading at which both axes have the same height; "" if this reading is not
        known.
        """
        at, say = meets_at_mm(self.job), self.lathe.length_text
        if at is None:
            return ""
        reading = self.lathe.indicator_text
        return {
            "bars": f"The axes meet when the other bar measures {say(at)} over its top",
            "bars compared": f"The axes meet when the other bar reads {reading(at)}, with 0 on the spindle's bar",
            "sweep": f"The axes meet when down reads {reading(abs(at))} {'more' if at >= 0 else 'less'} than up, and "
            "near reads the same as far",
            "two circles": f"The axes meet when both circles together measure {say(at)}",
        }[self.job.method]

    def _slide_zero(self) -> Step:
        dial = self.lathe.dials.get("cross_slide")
        text = self._line_words()
        if dial is None:
            return Step(action="set", title="Set the slide to 0", text=f"{text}. Set its dial to 0: this is offset 0")
        return touch_off_step(
            dial,
            f"{text}. This is offset 0: take up the backlash in the direction in which you will count",
            touches=False,
        )

    def _line_words(self) -> str:
        say, near = self.lathe.length_text, self.error.near_mm if self.error else None
        if self.job.method in {"bars", "bars compared"}:
            sizes = self.job.size("spindle_bar"), self.job.size("other_bar")
            words = "Bring both bars in line: read the near side of each by one indicator, carried along the bed"
            if sizes[0] is None or sizes[1] is None:
                return words
            thicker = "spindle's" if sizes[0] > sizes[1] else "other"
            return f"{words}. The {thicker} bar must read {say(abs(sizes[0] - sizes[1]) / 2)} nearer"
        if near is None:
            return "Bring the axes in line across the bed"
        if self.error is not None and not self.error.signed:
            return f"Move the table {say(abs(near))} away from you if the last circle is further away, else towards you"
        if abs(near) < 1e-6:
            return "The axes are in line across the bed"
        return f"Move the {self.job.other} {self._by_dial(abs(near))} {'away from' if near > 0 else 'towards'} you"

    def _by_dial(self, travel_mm: float) -> str:
        """Return text that gives a travel of the cross-slide [mm] and, if the slide has a dial, the nearest reading of
        the dial.
        """
        dial, say = self.lathe.dials.get("cross_slide"), self.lathe.length_text
        if dial is None:
            return say(travel_mm)
        return f"{say(travel_mm)} (by its dial {dial.reading_text(dial.marks(travel_mm) * dial.graduation)})"

    def again(self, asked: AbstractSet[AskedAt]) -> Iterator[Step]:
        """Yield the steps that measure the values in `asked` again, after the bolts have been tightened."""
        asks = again_asks(self.job, self.lathe)
        if self.job.method == "two circles" and asked >= frozenset(ask.at for ask in asks):
            yield Step(
                action="check",
                title="Cut two circles again",
                text="Skim the scrap, or fix a new piece. Set the slide to 0 and cut a circle of the same size. "
                "Turn the table half a turn and cut the circle again",
                cautions=(safety.BEFORE_POWER,),
            )
        yield from self.asked(asks, asked)

    def result(self) -> Iterator[Step]:
        """Yield the step that shows the result and, for a rotary table, the steps for mounting the blank and skimming
        its face.
        """
        findings = [self.found_words(self.error_after)] if self.error_after else []
        step = Step(action="check", title=CHECK, text=self.result_words(), findings=tuple(findings))
        if self._is_outside and not self._is_kept(ERROR_KEPT):
            step = replace(step, action="read", expects=Expects.SIZE, required=True, extra=asks_for(ERROR_KEPT))
        yield step
        if not self.job.is_table:
            return
        yield Step(
            action="check",
            title="Blank on",
            text=f"{safety.STOP_FIRST} Take off the indicator and the bars. Put the blank on the table. To centre it, "
            "turn the table by hand, and tap the blank until an indicator on its edge reads the same all round. Clamp "
            "the blank and read again. Take off the indicator, and turn the table once round: clamps and blank must "
            "clear the boring head",
        )
        yield Step(
            action="check",
            title="Skim its face in place",
            text="Skim the blank's face in place, with the cutter in the spindle and the work fed by the slide. The "
            "face is then square to the spindle, whatever error remains",
            cautions=(safety.BEFORE_POWER,),
        )

    def result_words(self) -> str:
        """Return text that says whether the remaining error is within the tolerance, and how the error affects a
        pattern.
        """
        error = self.error_after
        if error is None:
            return "Check the remaining error and its effect on a pattern"
        words = self.effect_words(abs(error.height_mm or 0.0))
        tolerance = self.job.tolerance_mm
        if tolerance is None:
            return words
        limit = self.lathe.length_text(tolerance)
        if not self._is_outside:
            return f"Within {limit}. {words}"
        if self._is_kept(ERROR_KEPT):
            return f"Outside {limit}, left as it is. {words}"
        return f"Outside {limit}. Press Space to set the height again or to leave the error. {words}"

    @property
    def _is_outside(self) -> bool:
        """True if the error measured again exceeds the tolerance, in height or across."""
        return self.job.tolerance_mm is not None and self.outside_mm(ERROR_KEPT) > self.job.tolerance_mm + 1e-9

    def effect_words(self, height_mm: float) -> str:
        """Return a sentence about the effect that a height error [mm] has on a pattern."""
        say, effect = self.lathe.length_text, effect_on_pattern(self.job.offset_mm, height_mm)
        if height_mm < 0.0005:
            return "No height error would show in a pattern"
        grows = effect.effective_offset_mm - effect.offset_mm
        grown = say(grows) if grows >= 0.0005 else f"less than {say(0.001)}"
        half = effect_on_pattern(self.job.offset_mm / 2, height_mm)
        return (
            f"A height error of {say(height_mm)} turns a ring at offset {say(effect.offset_mm)} by "
            f"{number_text(effect.turned_by_deg, 3)}° and makes it {grown} larger. A ring at half that offset turns by "
            f"{number_text(half.turned_by_deg, 3)}°. At offset 0 the whole error shows"
        )
