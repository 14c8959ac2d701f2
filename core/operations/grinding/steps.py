"""The steps of a `grind` operation: flat, first flank, second flank, tip and check."""

from collections.abc import Iterator, Sequence

from core import safety
from core.lathe.lathe import SET_UP, Lathe
from core.operations.asked_values import Ask, AskedAt
from core.operations.grinding.job import CARBIDE, MOST_READINGS, OLD_DRILL, GrindJob
from core.operations.grinding.point import FlankSetting, shortened_by_mm
from core.plan import Step
from core.values.angles import angle_text

SET_FIRST, GRIND_FIRST = "Set the first flank", "Grind the first flank"
SET_SECOND, GRIND_SECOND = "Set the second flank", "Grind the second flank"
ROUGH, FINISH, NEW_FLAT, CHECK = "Rough the flat", "Finish the flat", "Grind a new flat", "Check the point"


def flat_ask(place: int) -> Ask:
    """Return the question for a reading across flat and back. `place`: the index of the reading, from 0."""
    again = "" if place == 0 else f", {place + 1}"
    return Ask(
        AskedAt("across_flat", place),
        f"Measure the flat{again}",
        f"{safety.STOP_WHEEL} Wipe the blank clean and let it cool. Measure across flat and back with a micrometer. "
        "Enter the size",
        "What does the micrometer read across flat and back?",
        cautions=(safety.WHEEL_STOPS,),
    )


class GrindAtBench:
    """A `grind` operation at the bench. Its sentences use the unit of the lathe."""

    def __init__(self, job: GrindJob, lathe: Lathe) -> None:
        self.job, self.say = job, lathe.length_text
        # A step shows one caution at most, so the first two steps that grind show one each.
        carbide = (safety.CARBIDE_DUST, safety.COOL_CARBIDE)
        self._of_grinding = carbide if job.made_of == CARBIDE else (safety.STEEL_SPARKS, safety.COOL_EDGE)

    def steps(self) -> Iterator[Step]:
        """Yield all steps. No step asks for a reading that the job already has."""
        yield from self.before()
        yield from self.flat()
        yield from self.point()

    def before(self) -> Iterator[Step]:
        """Yield the steps before the wheel runs."""
        job = self.job
        if job.made_of == OLD_DRILL:
            yield Step(
                action="check",
                title="Test the shank with a file",
                text="Draw a fine file over the shank where the point will be. If the file bites, the steel is too "
                "soft to cut metal. Use the fluted end, or another blank",
                cautions=(safety.FILE_TEST,),
            )
        yield Step(
            action="set",
            title="Clamp the blank",
            text=f"Clamp the blank in its block, with {self.say(job.depth_mm + 2 * job.shank_mm)} sticking out. Check "
            "that the block can roll about the shank and turn on the rest",
            cautions=(safety.SMALL_CUTTER,),
        )

    def flat(self) -> Iterator[Step]:
        """Yield the steps that grind and measure the cutting face, beginning after the latest reading."""
        job, half = self.job, self.say(self.job.half_shank_mm)
        taken = len(job.readings_mm)
        if not taken:
            yield Step(
                action="check",
                title=ROUGH,
                text=f"Grind a flat along the shank, {self.say(job.depth_mm + job.shank_mm)} long. Stop when about "
                f"{self.say(job.rough_mm)} is left across flat and back",
                cautions=self._of_grinding,
            )
            yield flat_ask(0).step()
        if job.flat_is_done:
            return
        if job.is_past_axis:
            yield Step(
                action="check",
                title=NEW_FLAT if taken < 2 else f"{NEW_FLAT}, {taken}",
                text=f"Grind {self.say(job.depth_mm + job.shank_mm)} off the end, then a new flat. Stop when about "
                f"{self.say(job.rough_mm)} is left across flat and back",
                cautions=self._of_grinding,
            )
        to_go = f" {self.say(job.to_grind_mm)} to go." if taken and not job.is_past_axis else ""
        yield Step(
            action="check",
            title=FINISH if taken < 2 else f"{FINISH}, {taken}",
            text=f"Finish the flat with light touches.{to_go} The flat is on the shank's axis when the micrometer "
            f"reads {half} across flat and back",
            cautions=self._of_grinding,
        )
        if max(taken, 1) < MOST_READINGS:
            yield flat_ask(max(taken, 1)).step()

    def flat_words(self) -> str:
        """Return a sentence about the latest reading across flat and back; "" before the first reading."""
        job, off = self.job, self.say(abs(self.job.to_grind_mm))
        if not job.readings_mm:
            return ""
        if job.to_grind_mm > job.near_enough_mm + 1e-9:
            return f"{off} remains to grind off the flat."
        if abs(job.to_grind_mm) <= job.near_enough_mm + 1e-9:
            side = "above" if job.to_grind_mm > 0 else "below"
            where = f"{off} {side} the shank's axis" if abs(job.to_grind_mm) >= 0.0005 else "on the shank's axis"
            return f"The flat is {where}. That is near enough."
        if job.is_past_axis:
            wrong = "would miss the centre" if job.on_axis else "would be too weak"
            return f"The flat is {off} past the shank's axis. The point {wrong}. If the reading was mistyped, undo it."
        return (
            f"The flat is {off} past the shank's axis. Turn the shank a little in the head, until the flat points "
            "at the spindle's axis."
        )

    def point(self) -> Sequence[Step]:
        """Return the steps after the cutting face: both flanks, the tip, the edges, the check and the holder."""
        return [*self._flanks(), *self._tip(), *self._last()]

    def _flanks(self) -> Iterator[Step]:
        job, first, second = self.job, self.job.first, self.job.second
        yield Step(
            action="set",
            title=SET_FIRST,
            text=f"{safety.STOP_WHEEL} Roll the block {angle_text(first.roll_deg)}. The flat faces up and away from "
            f"the wheel. Set the rest to {angle_text(first.rest_deg)} between shank and wheel face. Lock block and "
            "rest",
            cautions=(safety.WHEEL_STOPS,),
            extra=_angles(first),
        )
        yield Step(
            action="check",
            title=GRIND_FIRST,
            text="Grind the first flank. Stop when the flank's edge reaches the middle of the flat's end",
            cautions=self._of_grinding,
        )
        rest = angle_text(second.rest_deg)
        leave = f"Leave the rest at {rest}" if second.rest_deg == first.rest_deg else f"Set the rest to {rest}"
        yield Step(
            action="set",
            title=SET_SECOND,
            text=f"{safety.STOP_WHEEL} Turn the block over. The flat faces down. Roll the block "
            f"{angle_text(second.roll_deg)}, so that the flat again faces away from the wheel. {leave}. Lock block "
            "and rest",
            cautions=(safety.WHEEL_STOPS,),
            extra=_angles(second),
        )
        until = (
            ("This flank only gives clearance. Stop just before it reaches the point")
            if job.on_axis
            else "Stop when both "
        )
        until += "" if job.on_axis else "edges meet in a point in the middle"
        yield Step(
            action="check", title=GRIND_SECOND, text=f"Grind the second flank. {until}", cautions=self._of_grinding
        )

    def _tip(self) -> Iterator[Step]:
        job, cutter = self.job, self.job.ground
        shorter = shortened_by_mm(job.first.half_angle_deg, cutter.tip_flat_mm, cutter.tip_radius_mm)
        tilt = angle_text(job.first.roll_deg)
        if cutter.tip_flat_mm:
            yield Step(
                action="check",
                title="Grind the tip flat",
                text=f"{safety.STOP_WHEEL} Set the shank square to the wheel. Tilt the block {tilt}, so that the "
                f"cutting edge stays longest. Grind the point {self.say(shorter)} shorter. The tip is then "
                f"{self.say(cutter.tip_flat_mm)} wide",
                cautions=(safety.WHEEL_STOPS,),
            )
        elif cutter.tip_radius_mm:
            yield Step(
                action="check",
                title="Stone the nose round",
                text=f"Stone the nose to a radius of {self.say(cutter.tip_radius_mm)}, leaning {tilt} for relief. The "
                f"point gets {self.say(shorter)} shorter. Compare it with a radius gauge through a loupe",
                cautions=(safety.FINE_EDGE,),
            )

    def _last(self) -> Iterator[Step]:
        job, cutter = self.job, self.job.ground
        yield Step(
            action="check",
            title="Stone the edges",
            text="Lay a fine stone flat on the cutting face. A few strokes take the burr off. Give each flank one "
            "stroke at its own angle",
            cautions=(safety.FINE_EDGE,),
        )
        width = self.say(job.groove_width_mm)
        yield Step(
            action="check",
            title=CHECK,
            text=f"Hold the flat against a gauge of {angle_text(cutter.tip_angle_deg, 1)}. Through a loupe the edge "
            f"must not shine. A trial groove {self.say(job.depth_mm)} deep must be {width} wide",
        )
        if job.on_axis:
            yield Step(
                action="check",
                title="Put the cutter in the spindle",
                text=f"{safety.STOP_FIRST} Clamp the shank short in its collet. Turn the spindle by hand. The point "
                "must stay in one place",
                cautions=(safety.COLLET_READY,),
            )
        else:
            yield Step(
                action="check",
                title="Put the cutter in the head",
                text=f"{safety.STOP_FIRST} Clamp the shank in the boring head. Turn it until the flat points straight "
                "at the spindle's axis and faces the direction in which the cutter runs",
                cautions=(safety.HEAD_BY_HAND,),
            )
        yield Step(action="check", title="Keep the cutter's sizes", text=self.cutter_words())

    def cutter_words(self) -> str:
        """Return a sentence that says where to enter the finished cutter, and which sizes to enter."""
        return (
            f"If this job has a pattern, press T to put the cutter into the pattern. Or enter the cutter in {SET_UP}: "
            f"{self.point_words()}"
        )

    def point_words(self) -> str:
        """Return the sizes of the point as ground: "89.6°, flat 0.2 mm"."""
        cutter = self.job.ground
        tip = "sharp"
        if cutter.tip_flat_mm:
            tip = f"flat {self.say(cutter.tip_flat_mm)}"
        elif cutter.tip_radius_mm:
            tip = f"nose radius {self.say(cutter.tip_radius_mm)}"
        return f"{angle_text(cutter.tip_angle_deg, 1)}, {tip}"


def _angles(flank: FlankSetting) -> dict[str, float]:
    return {"roll_deg": flank.roll_deg, "rest_deg": flank.rest_deg}
