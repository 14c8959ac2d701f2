"""The carriage's travel in a threading pass: its direction, its stopping point, and the time available for stopping it.

The rule is derived here, not taken from a source: a thread keeps its hand if spindle and carriage are both reversed.
With the spindle forward, a right-hand thread is cut towards the chuck and a left-hand thread away from the chuck. To
cut in the opposite direction, either thread needs a reversed spindle, with the tool inverted or behind the work.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

from core.cutting import backlash_words
from core.lathe.lathe import CARRIAGE, Lathe
from core.operations.threads.gearing import gearing, step_up_ratio
from core.operations.threads.job import ThreadJob
from core.plan import Expects, Step
from core.values.dials import Dial, Setting
from core.values.quantities import number_text


def spindle_in_reverse(job: ThreadJob) -> bool:
    """Return True if the spindle turns in reverse while this thread is cut."""
    return job.from_chuck != job.thread.left_hand


def direction_words(job: ThreadJob) -> str:
    """Return a phrase that states the directions of the spindle, the leadscrew and the cut.

    >>> from core.values.fields import Table
    >>> from core.lathe.reader import example_lathe
    >>> from core.operations.threads.job import read_thread_job
    >>> table = {"thread": "M20x2-LH", "runs": "from the chuck"}
    >>> direction_words(read_thread_job(Table(table, "", []), example_lathe()))
    'spindle forward, leadscrew reversed, the cut runs away from the chuck'
    """
    spindle = "in reverse, tool inverted" if spindle_in_reverse(job) else "forward"
    screw = "reversed" if job.thread.left_hand else "as usual"
    return f"spindle {spindle}, leadscrew {screw}, the cut runs {_to(job)}"


def leading_side(job: ThreadJob) -> str:
    """Return the side of the tool that enters uncut metal first: "left" or "right" as seen by the turner."""
    return "right" if job.from_chuck else "left"


def direction_cautions(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """Yield cautions about the direction of the cut and the hand of the thread."""
    if not spindle_in_reverse(job):
        return
    other = "away from the chuck" if job.thread.left_hand else "towards the chuck"
    hand = "left-hand" if job.thread.left_hand else "right-hand"
    yield (
        f"A {hand} thread cut {_to(job)} needs the spindle in reverse, and the tool inverted or behind the work. Cut "
        f"{other} if you want to run the spindle forward."
    )
    if lathe.spindle.nose in (None, "screwed"):
        yield (
            "A screwed-on chuck can unscrew with the spindle in reverse. "
            "Lock the chuck, or do not cut in this direction."
        )


def _to(job: ThreadJob) -> str:
    return "away from the chuck" if job.from_chuck else "towards the chuck"


NO_SOLID_STOP = "Never run against a solid stop. With the half nuts closed, the leadscrew keeps driving."


class Stopping(NamedTuple):
    """The room and the time for stopping a tool in its relief, and the highest spindle speed that leaves enough
    time.
    """

    tool_width_mm: float
    room_mm: float
    """Travel available past the edge of the relief: to its far wall, less half the tool's width."""
    rpm: float | None
    time_s: float | None
    rpm_most: float | None


class StopSettings(NamedTuple):
    """The settings of the carriage dial between which the carriage must stop.

    The dial reads 0 when the tip is level with the zero face. If the cut runs away from the chuck, these are the
    settings between which the carriage starts.
    """

    aim: Setting
    latest: Setting | None
    """The last mark at which the tool still clears the shoulder; None if `aim` is that mark."""


def stopping(job: ThreadJob, lathe: Lathe) -> Stopping | None:
    """Return the room and the time for stopping in the relief; None if there is no relief, or if the cut starts in the
    relief.

    The room is the width of the relief less half of the tool's width at the blank. The time is the room divided by the
    feed; if the half nuts stay closed, the time in which the spindle coasts is subtracted. The formula is derived here,
    not taken from a source. The user enters the reaction time, because it has no published value.
    """
    if job.relief_mm is None or job.from_chuck:
        return None
    width_mm = job.tip.width_mm(job.groove.depth_mm)
    room_mm = job.relief_mm - width_mm / 2
    spindle = lathe.spindle
    turns = room_mm / job.thread.lead_mm - _lost_turns(job, lathe)
    rpm = job.speed_rpm or spindle.slowest_rpm
    time_s = None if rpm is None else turns * 60 / rpm
    fastest = turns * 60 / spindle.reaction_time_s
    return Stopping(
        tool_width_mm=width_mm,
        room_mm=room_mm,
        rpm=rpm,
        time_s=time_s,
        rpm_most=spindle.fastest_up_to(fastest) if fastest > 0 else None,
    )


def relief_wanted_mm(job: ThreadJob, lathe: Lathe) -> float | None:
    """Return the width of relief [mm] that gives the turner time to react; None if no spindle speed is known.

    The speed is the one that the user chose, or else the slowest speed of the lathe. Source: the formula of `stopping`,
    solved for the relief.
    """
    rpm = job.speed_rpm or lathe.spindle.slowest_rpm
    if rpm is None:
        return None
    turns = rpm * lathe.spindle.reaction_time_s / 60 + _lost_turns(job, lathe)
    return job.tip.width_mm(job.groove.depth_mm) / 2 + turns * job.thread.lead_mm


def by_hand_words(job: ThreadJob, lathe: Lathe) -> str:
    """Return why the spindle must be turned by hand for this thread; "" if the thread can be cut under power.

    The reasons are common practice, without a source.
    """
    ratio = step_up_ratio(job.thread.exact_lead, lathe)
    if ratio is not None:
        return (
            f"Turn the spindle by hand. The leadscrew makes {number_text(ratio, 2)} turns for one turn of the spindle. "
            "Under power, this strains the gears and the half nuts."
        )
    stop = stopping(job, lathe)
    if stop is not None and stop.rpm is not None and stop.rpm_most is None:
        return "Turn the spindle by hand. Even at its lowest speed, this lathe leaves too little time to stop."
    return ""


def stopping_place_mm(job: ThreadJob, lathe: Lathe) -> tuple[float, float] | None:
    """Return the first and the last position at which the carriage may stop [mm]; None if the range is unknown.

    Positions count from the zero face, with the compound at 0. If the cut starts near the chuck, the range is where the
    carriage may start.
    A swung compound moves the tip along the axis, so the carriage must stop sooner by the depth times the tangent of
    the angle. If the half nuts stay closed under power, the range also allows for the coasting spindle. The range is
    unknown if the relief is too narrow for the tool. The formula is derived here, not taken from a source.
    """
    place = job.place
    if place.relief_at_mm is None:
        return None
    half_mm = job.tip.width_mm(job.groove.depth_mm) / 2
    least, room_mm = place.relief_at_mm, 0.0
    if place.relief_mm is not None:
        room_mm = place.relief_mm - half_mm
        if room_mm < 0:
            return None
    moved_mm = job.groove.depth_mm * math.tan(math.radians(job.compound_angle_deg or 0.0))
    if job.from_chuck:
        return min(least + moved_mm, least + room_mm), least + room_mm
    coasts_mm = 0.0 if by_hand_words(job, lathe) else _lost_turns(job, lathe) * job.thread.lead_mm
    most = least
    if place.relief_mm is not None:
        most += room_mm - moved_mm
        # The turner switches off the drive only after the thread is complete.
        most = max(min(least, most), most - coasts_mm)
    if place.shoulder_at_mm is not None:
        most = min(most, place.shoulder_at_mm - half_mm)
    return min(least, most), most


def stop_settings(job: ThreadJob, lathe: Lathe, starts_on: int = 0) -> StopSettings | None:
    """Return the settings of the carriage dial for stopping; None if there is no carriage dial or no known stopping
    point.

    starts_on: the number of thread starts cut since the carriage dial was set to 0. With straight infeed, the compound
    has moved the tip by one pitch for each of these starts, so the carriage must stop that much sooner.
    """
    carriage, place = lathe.dials.get(CARRIAGE), stopping_place_mm(job, lathe)
    if carriage is None or place is None:
        return None
    on_mm = starts_on * job.thread.pitch_mm if job.straight and "compound" in lathe.dials else 0.0
    first = math.ceil((place[0] - on_mm) / carriage.mark_mm - 1e-9)
    last = math.floor((place[1] - on_mm) / carriage.mark_mm + 1e-9)
    # If no mark is inside the range, use the mark before it. A slightly early stop spares the shoulder.
    aim = (first + last) // 2 if last > first else last
    return StopSettings(carriage.at_marks(aim), carriage.at_marks(last) if last > aim else None)


def stop_steps(job: ThreadJob, lathe: Lathe) -> list[Step]:
    """Return the step that prepares for stopping: the turner sets the carriage dial at the zero face, or else marks the
    bed.

    The step recommends no solid stop, because closed half nuts would drive the carriage against the stop. This is
    common practice, without a source.
    """
    carriage, stop = lathe.dials.get(CARRIAGE), stop_settings(job, lathe)
    if carriage is not None and stop is not None:
        return [_carriage_step(job, carriage, stop)]
    if job.from_chuck:
        return []
    if job.relief_mm is not None:
        how = "bring the tip by hand to the middle of the relief"
    elif job.length_mm is not None:
        how = f"mark the work {lathe.length_text(job.length_mm)} from {job.place.zero_face} and bring the tip there"
    else:
        return []
    text = f"Stop: {how}. Mark the bed next to the carriage"
    return [Step(action="check", title="Mark the stop", text=text, cautions=(NO_SOLID_STOP,))]


def _carriage_step(job: ThreadJob, carriage: Dial, stop: StopSettings) -> Step:
    """Return the step in which the turner sets or reads the carriage dial, with the tip level with the zero face.

    In a pass, the closed half nuts move the carriage, and the carriage turns its handwheel. In a cut towards the chuck,
    the backlash is taken up on the same side as by winding the carriage away from the chuck. So the turner brings the
    tip to the face by winding the carriage away from the chuck. In a cut away from the chuck, the dial is needed only
    for the start, which the turner reaches by hand, towards the chuck. This reasoning is derived here, not taken from a
    source.
    """
    side = "towards the chuck" if job.from_chuck else "away from the chuck. The closed half nuts keep it on that side"
    backlash = f"backlash{backlash_words(carriage)} {side}. "
    text = f"Carriage: first set the compound to its zero. Take up the carriage's {backlash}"
    if job.straight:
        text = f"Carriage: take up its {backlash}"
    text += f"Wind on until the tip is level with {job.place.zero_face}. "
    if carriage.can_zero:
        what = "Start" if job.from_chuck else "Stop"
        latest = "" if stop.latest is None else f", {carriage.setting_text(stop.latest)} at the latest"
        text += f"Set the carriage dial to 0. {what} at {carriage.setting_text(stop.aim)}{latest}"
    else:
        text += "Enter the reading of the carriage dial"
    return Step(
        action="set",
        title="Set the carriage dial to 0" if carriage.can_zero else "Read the carriage dial",
        text=text,
        zeroed_dials=(carriage.name,),
        expects=Expects.READING,
        required=not carriage.can_zero,
    )


def stop_place_words(job: ThreadJob, lathe: Lathe) -> str:
    """Return a phrase for the carriage's stopping point, as a distance from the zero face and as a dial reading.

    Without a carriage dial, the phrase names the relief or the mark on the bed. It is "" if no stopping point is known.
    """
    place, stop, carriage = stopping_place_mm(job, lathe), stop_settings(job, lathe), lathe.dials.get(CARRIAGE)
    if place is None:
        return ""
    if stop is None or carriage is None:
        return (
            "at a mark on the bed, with the tip in the relief" if job.relief_mm is not None else "at a mark on the bed"
        )
    least, most = place
    to = f" to {lathe.length_text(most)}" if most - least > 0.0005 else ""
    return f"tip {lathe.length_text(least)}{to} from {job.place.zero_face}; {_stop_words(carriage, stop)}"


def _stop_words(carriage: Dial, stop: StopSettings) -> str:
    latest = "" if stop.latest is None else f", {carriage.setting_text(stop.latest)} at the latest"
    return f"carriage {carriage.setting_text(stop.aim)}{latest}, from 0 at the face"


def _lost_turns(job: ThreadJob, lathe: Lathe) -> float:
    """Return how many turns the spindle coasts while the closed half nuts keep moving the carriage."""
    if lathe.spindle.coast_turns is None or not gearing(job.thread.exact_lead, lathe).nut_stays_closed:
        return 0.0
    return lathe.spindle.coast_turns
