"""The steps of setting a part square: read along a length, move the part, and read again until the error is small."""

from collections.abc import Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from functools import cached_property

from core import safety
from core.lathe.lathe import Lathe
from core.operations.asked_values import AFTER, REVERSED, Ask, AskedAt, asks_for
from core.operations.axes.stack import best_stack
from core.operations.runout.job import graduation_of
from core.operations.square.job import READ_ALONG, SquareJob
from core.operations.square.straight_line import (
    LIGHT_CUT_N,
    Found,
    bending_mm,
    found_in,
    slope_error,
)
from core.plan import Expects, Step
from core.values.quantities import number_text

MEASURE_AGAIN = AskedAt("measure_again")
"""Names the question at the result whether to measure now. It is asked if the run has measured nothing."""
CALIPER_MM = 0.01
"""One graduation of a micrometer or a good caliper [mm]; common practice, no source."""
_ENDS = {
    "between centres": ("near the headstock", "near the tailstock"),
    "chuck bar": ("near the chuck", "near the free end"),
}


@dataclass(frozen=True)
class SquareAtLathe:
    """A `square` operation on one lathe."""

    job: SquareJob
    lathe: Lathe

    @cached_property
    def before(self) -> Found | None:
        """The findings of the set of readings before any move; None if that set is not complete."""
        return found_in(self.job)

    @cached_property
    def after(self) -> Found | None:
        """The findings of the set of readings after the latest move; None if that set is not complete."""
        return found_in(self.job, after=True)

    @property
    def reads(self) -> bool:
        """True if an indicator gives the readings, False if the user measures diameters."""
        return self.job.method in READ_ALONG

    @property
    def graduation_mm(self) -> float:
        """One graduation of the indicator [mm], or of the instrument that measures diameters."""
        return graduation_of(self.lathe) if self.reads else CALIPER_MM

    # Asking.

    def asks(self, *, after: bool = False) -> list[Ask]:
        """Return the questions for one set of values, in order.

        The set includes the readings after the square or bar is turned over.
        `after`: whether to return the set that follows a move.
        """
        if not self.reads:
            return [self._diameter(place, after=after) for place in (0, 1)]
        key, again = (f"{self.job.key}{AFTER}", " again") if after else (self.job.key, "")
        asks = [self._reading(key, place, again) for place in range(self.job.count)]
        if self.job.reverse and not after:
            asks += [self._reading(f"{REVERSED}{key}", place, ", turned") for place in range(self.job.count)]
        return asks

    def _reading(self, key: str, place: int, again: str) -> Ask:
        where = self.lathe.length_text(self.job.at_mm[place])
        past = " past the centre" if self.job.method == "facing" else ""
        go = "Go to"
        if place == 0 and not again.startswith(","):
            go = f"{safety.STOP_FIRST} Set the indicator to 0 at"
        return Ask(
            AskedAt(key, place),
            f"Read at {where}{again}",
            f"{go} {where}{past}, by the slide alone. Enter the reading. A nearer surface pushes the plunger in and "
            "reads +",
            f"What does the indicator read at {where}{past}?",
            reads=True,
        )

    def _diameter(self, place: int, *, after: bool) -> Ask:
        where, again = _ENDS[self.job.method][place], " again" if after else ""
        return Ask(
            AskedAt(f"{self.job.key}{AFTER if after else ''}", place),
            f"Measure {where}{again}",
            f"{safety.STOP_FIRST} Measure the diameter {where}, and enter it",
            f"What is the diameter {where}{' now' if after else ''}?",
        )

    # Steps.

    def first(self) -> Iterator[Step]:
        """Yield the steps before the first reading."""
        stop = safety.STOP_FIRST
        match self.job.method:
            case "along":
                text = (
                    f"{stop} Clean and deburr the part and its seat. Fix the indicator on the slide that moves along "
                    "the part, its plunger square to the surface. Do not set the indicator to 0 again between "
                    "readings"
                )
                yield Step(action="set", title="Set the indicator", text=text)
            case "facing":
                text = "Face a disc as large as you can with the cross-slide, light cut, carriage locked"
                yield Step(action="check", title="Face a disc", text=text, cautions=(safety.BEFORE_POWER,))
                text = (
                    f"{stop} Fix the indicator on the cross-slide, plunger on the face. Run the indicator from the "
                    "side you cut to the centre. Its needle must not move. Set the indicator to 0 at the centre"
                )
                yield Step(action="set", title="Set the indicator", text=text)
            case "ground bar":
                text = (
                    f"{stop} Put a ground bar between clean centres. Fix the indicator on the carriage, plunger at "
                    "centre height on the side near you. Do not set the indicator to 0 again between readings"
                )
                yield Step(action="set", title="Set the indicator", text=text)
            case _:
                yield self._cut_lands("Turn two lands")

    def _cut_lands(self, title: str) -> Step:
        apart = self.lathe.length_text(self.job.apart_mm or 0.0)
        held = "between centres" if self.job.method == "between centres" else "in the chuck, its end free"
        return Step(
            action="check",
            title=title,
            text=f"Hold a bar {held}. Turn two lands {apart} apart in one light pass, with a sharp tool and one "
            "setting of the cross-slide. Relieve the middle",
            cautions=(safety.BEFORE_POWER,),
        )

    def ask_before(self, asked: AbstractSet[AskedAt]) -> Iterator[Step]:
        """Yield the remaining steps of the first set, including the step that turns the square or bar over."""
        turned = [ask for ask in self.asks() if ask.at.key.startswith(REVERSED)]
        for ask in self.asks():
            if ask.at not in asked:
                continue
            if turned and ask.at == turned[0].at:
                yield self._turn_over()
            yield ask.step()

    def _turn_over(self) -> Step:
        text = (
            "Turn the square over, so that its stock is on the other side. Put the square back on the same seat. Leave "
            "the indicator on the same side"
        )
        if self.job.method == "ground bar":
            text = "Turn the bar half a turn between the centres by hand. Leave the indicator as it is"
        return Step(action="set", title="Turn it over", text=text)

    def ask_after(self, asked: AbstractSet[AskedAt]) -> Iterator[Step]:
        """Yield the remaining steps of the set that follows a move."""
        asks = [ask for ask in self.asks(after=True) if ask.at in asked]
        if len(asks) == self.job.count and not self.reads:
            yield self._cut_lands("Turn both lands again")
        yield from (ask.step() for ask in asks)

    def correct(self) -> Step:
        """Return the step that moves the part. The text of the step gives the error of the latest set."""
        latest = self.after or self.before
        findings = [] if latest is None else [*self.found_words(latest), *self.compared_words()]
        taps = self.job.method == "along" and self.job.how == "tap"
        return Step(
            action="read",
            title="Correct it",
            text=self.correct_words(latest),
            findings=tuple(findings),
            cautions=(safety.SOFT_HAMMER_ON_BOLTS,) if taps else (),
        )

    def result(self, *, final: bool = True, from_file: bool = False) -> Step:
        """Return the step that shows the result.

        `final`: False if readings are still missing, so that the step has no result yet.
        `from_file`: True if the run has taken no readings of its own, so that the step offers to take them.
        """
        latest = (self.after or self.before) if final else None
        if latest is None:
            text = "Check the error, and whether it is small enough"
            return Step(action="check", title="Check the result", text=text)
        shown, *others = filter(None, (self.verdict_words(latest), *self.found_words(latest)))
        step = Step(
            action="check",
            title="Check the result",
            text=shown.removesuffix("."),
            findings=(*others, *self.compared_words()),
        )
        if not from_file:
            return step
        what, verb = ("readings", "read") if self.reads else ("diameters", "measure")
        source = f"This result comes from the {what} in the job file, not from this run"
        text = f"{source}. {step.text}. To {verb} now, press Space"
        return replace(step, action="read", text=text, expects=Expects.SIZE, extra=asks_for(MEASURE_AGAIN))

    # Words.

    def uncertainty_mm(self, found: Found) -> float:
        """Return the uncertainty of the error over the length [mm]: twice its standard error."""
        halved = self.job.method == "facing"
        error = slope_error(found.line, self.graduation_mm, halved=halved) * found.line.length_mm
        # A taper is the difference of two diameters, not of two radii.
        return 2 * error

    def error_mm(self, found: Found) -> float:
        """Return the size of the error [mm]: over the length, or between the two diameters."""
        return abs(found.line.error_mm if found.taper_mm is None else found.taper_mm)

    def is_outside(self, found: Found) -> bool:
        """Return whether the error exceeds the tolerance; False without a tolerance."""
        return self.job.tolerance_mm is not None and self.error_mm(found) > self.job.tolerance_mm + 1e-9

    def verdict_words(self, found: Found) -> str:
        """Return words that say whether the error is within the tolerance; "" without a tolerance."""
        limit, say = self.job.tolerance_mm, self.lathe.indicator_text
        if limit is None:
            return ""
        error, doubt = self.error_mm(found), self.uncertainty_mm(found)
        judged = "Outside" if error > limit + 1e-9 else "Within"
        words = f"{judged} the tolerance of {say(limit)}: {say(error)} ± {say(doubt)}"
        return (
            words
            if abs(limit - error) + 1e-9 >= doubt
            else f"{words}. That is too close to the tolerance to be certain"
        )

    def found_words(self, found: Found) -> list[str]:
        """Return the findings of a set as one or more sentences."""
        say, line, per_100 = self.lathe.indicator_text, found.line, self._per_100(found.line.slope)
        if found.taper_mm is not None:
            return [self._taper_words(found)]
        grows = "nearer" if line.slope > 0 else "further away"
        words = f"The readings slope {per_100} ({number_text(abs(line.slope_deg), 4)}°), {grows} along the length"
        if abs(line.error_mm) < self.graduation_mm / 2:
            words = "The readings are in line, as far as the indicator shows"
        if self.job.method == "facing":
            shape = "hollow, which makers allow" if line.slope > 0 else "high in the middle"
            words = (
                f"The cross-slide is {per_100} off square ({number_text(abs(line.slope_deg), 4)}°), half of what the "
                f"indicator shows. A face comes out {shape}"
            )
        if line.straightness_mm is not None:
            within = "" if line.straightness_mm < self.graduation_mm / 2 else f" within {say(line.straightness_mm)}"
            words += f". Straight{within}, as far as these readings show"
        sentences = [f"{words}."]
        if found.own_slope is not None:
            what = "bar" if self.job.method == "ground bar" else "square"
            sentences.append(
                f"The {what} itself is off by {self._per_100(found.own_slope)}. The result allows for this."
            )
        return sentences

    def _per_100(self, slope: float) -> str:
        """Return the size of a slope as a length in 100 mm or 10 in, such as "0.02 mm in 100 mm"."""
        over_mm, over = (100.0, "100 mm") if self.lathe.indicator_unit == "mm" else (254.0, "10 in")
        return f"{self.lathe.indicator_text(abs(slope) * over_mm)} in {over}"

    def _taper_words(self, found: Found) -> str:
        say, taper = self.lathe.length_text, found.taper_mm or 0.0
        end = _ENDS[self.job.method][1]
        if taper == 0:
            return "Both diameters are equal."
        return f"The diameter {end} is {say(abs(taper))} {'larger' if taper > 0 else 'smaller'}."

    def compared_words(self) -> list[str]:
        """Return sentences that compare the errors before and after a move; [] before the second set."""
        if self.before is None or self.after is None:
            return []
        say = self.lathe.indicator_text
        one, other = (self.error_mm(found) for found in (self.before, self.after))
        crossed = self.before.line.slope * self.after.line.slope < 0 and other > self.uncertainty_mm(self.after)
        return [f"Before {say(one)}, now {say(other)}{': the part was moved too far' if crossed else ''}."]

    def correct_words(self, found: Found | None) -> str:
        """Return a sentence that says which part to move, in which direction, and how far.

        `found`: the findings of the latest set; None if there are none yet.
        """
        if found is None:
            return "Move the part by the amount calculated from the readings"
        match self.job.method:
            case "chuck bar":
                return self.bed_words(found)
            case "between centres" | "ground bar":
                return self._tailstock_words(found)
        move, say = found.move_mm, self.lathe.indicator_text
        if move is None:
            return (
                "Move the part until the indicator reads the same at all positions. To get an amount, enter the "
                "position of the tap in the job"
            )
        if abs(move) < self.graduation_mm / 2:
            return "Leave the part. The move is smaller than the indicator can show"
        tap, pivot = self.job.tap_mm or 0.0, self.job.pivot_mm
        pivot = self.job.at_mm[0] if pivot is None else pivot
        direction = f"{'away from' if move > 0 else 'towards'} the indicator"
        at, about = self.lathe.length_text(tap), self.lathe.length_text(pivot)
        if self.job.how == "shim":
            shims = self._shims_words(abs(move))
            return f"Shim the part by {say(abs(move))} at {at}, {direction}. The part turns about {about}{shims}"
        less = "less" if move > 0 else "more"
        return (
            f"Tap the part by {say(abs(move))} at {at}, {direction}. The part turns about {about}. Watch the indicator "
            f"at {at}. It must read {say(abs(move))} {less} than before"
        )

    def _shims_words(self, amount_mm: float) -> str:
        if not self.lathe.shims_mm:
            return ""
        say, stack = self.lathe.length_text, best_stack(amount_mm, self.lathe.shims_mm)
        pieces = " + ".join(map(say, stack.pieces_mm)) or "none of your shims"
        left = "" if abs(stack.left_mm) < 1e-6 else f", {say(abs(stack.left_mm))} is left"
        return f". Nearest: {pieces}{left}"

    def _tailstock_words(self, found: Found) -> str:
        move, say = found.move_mm or 0.0, self.lathe.indicator_text
        length = self.lathe.length_text(self.job.work_length_mm or found.line.length_mm)
        if abs(move) < self.graduation_mm / 2:
            return "Leave the tailstock: the move is smaller than can be measured"
        half = ", half the difference scaled to that length" if found.taper_mm is not None else ""
        return (
            f"Move the tailstock {say(abs(move))} {'away from' if move > 0 else 'towards'} you, for {length} between "
            f"centres{half}. Watch an indicator on its barrel. Clamp it and read again"
        )

    def bed_words(self, found: Found) -> str:
        """Return words for the possible causes of a taper turned in the chuck, and for how far the bar bends."""
        diameters = self.job.complete(f"{self.job.key}{AFTER}") or self.job.complete(self.job.key) or (1.0, 1.0)
        say, stick_out = self.lathe.length_text, self.job.stick_out_mm or 0.0
        bends = bending_mm(diameters[0], stick_out)
        return (
            f"A steel bar this thick bends {say(bends)} at {say(stick_out)} under {LIGHT_CUT_N:g} N, {say(2 * bends)} "
            "on the diameter. Its free end becomes larger. A twisted bed looks the same as a headstock out of "
            "line, so level the bed first. Never loosen the headstock on this test alone"
        )


def all_asks(here: SquareAtLathe) -> Sequence[Ask]:
    """Return the questions for all values, before and after a move."""
    return [*here.asks(), *(here.asks(after=True) if here.job.measures_again else [])]
