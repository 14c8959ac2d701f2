"""How the carriage travels in a pass: in which direction, where it stops, and how much time there is to stop it.

Derived: a thread keeps its hand when spindle and carriage are both reversed. With the spindle forward, a right-hand
thread is cut towards the chuck and a left-hand one away from it. The other two directions need the spindle in
reverse, and the tool inverted or at the back of the work.
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
    """Return whether the spindle turns in reverse while this thread is cut."""
    return job.from_chuck != job.thread.left_hand


def direction_words(job: ThreadJob) -> str:
    """Return in one line the directions of spindle, leadscrew and cut.

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
    """Return which side of the tool goes first into the uncut metal, as the turner sees it."""
    return "right" if job.from_chuck else "left"


def direction_cautions(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """Yield cautions about the hand of the thread and the direction of the cut."""
    if not spindle_in_reverse(job):
        return
    other = "away from the chuck" if job.thread.left_hand else "towards the chuck"
    hand = "left-hand" if job.thread.left_hand else "right-hand"
    yield (
        f"A {hand} thread cut {_to(job)} needs the spindle in reverse and the tool inverted or at the back. "
        f"Cut {other} and it runs forward."
    )
    if lathe.spindle.nose in (None, "screwed"):
        yield "A screwed-on chuck can unscrew with the spindle in reverse. Lock it, or do not cut in this direction."


def _to(job: ThreadJob) -> str:
    return "away from the chuck" if job.from_chuck else "towards the chuck"


NO_SOLID_STOP = "Never run against a solid stop: with the half nuts closed the leadscrew drives on."


class Stopping(NamedTuple):
    """How much time there is to stop in the relief [s] at the chosen speed, and the fastest speed that allows it."""

    tool_width_mm: float
    room_mm: float
    """The way the tool may travel past the edge of the relief: up to its far wall, less half the tool's width."""
    rpm: float | None
    time_s: float | None
    rpm_most: float | None


class StopSettings(NamedTuple):
    """The carriage dial's readings at which to stop the carriage, counted from 0 with the tip at the zero face.

    If the thread runs away from the chuck, the carriage starts there instead.
    """

    aim: Setting
    latest: Setting | None
    """The last mark at which the tool still clears the shoulder; None if that is the mark `aim` itself."""


def stopping(job: ThreadJob, lathe: Lathe) -> Stopping | None:
    """Return how the tool stops in the relief; None if there is no relief, or if the tool cuts away from the relief.

    Room = relief - half of the tool's width at the blank; time = room / feed,
    less the turns the spindle coasts if the half nuts stay closed.
    Source: derived; reaction time is the user's own (common practice, no source).
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
    """Return how wide the relief must be to leave time to react [mm], at the chosen speed or else the slowest.

    None if no speed is known. Source: `stopping`, solved for the relief.
    """
    rpm = job.speed_rpm or lathe.spindle.slowest_rpm
    if rpm is None:
        return None
    turns = rpm * lathe.spindle.reaction_time_s / 60 + _lost_turns(job, lathe)
    return job.tip.width_mm(job.groove.depth_mm) / 2 + turns * job.thread.lead_mm


def by_hand_words(job: ThreadJob, lathe: Lathe) -> str:
    """Return why this thread should be cut with the spindle turned by hand; "" if power is right.

    Common practice, no source.
    """
    ratio = step_up_ratio(job.thread.exact_lead, lathe)
    if ratio is not None:
        return (
            f"Turn the spindle by hand: the leadscrew makes {number_text(ratio, 2)} turns for one of it. "
            "Under power that strains gears and half nuts."
        )
    stop = stopping(job, lathe)
    if stop is not None and stop.rpm is not None and stop.rpm_most is None:
        return "Turn the spindle by hand: no speed here leaves time to stop."
    return ""


def stopping_place_mm(job: ThreadJob, lathe: Lathe) -> tuple[float, float] | None:
    """Return the range in which the carriage may stop, counted from the zero face [mm].

    If the cut starts by the chuck, it is the range in which the carriage may start. The range is for the tip with
    the compound at its zero. A swung compound moves the tip along the axis by depth x tan of its angle at the last
    pass, so the carriage must stop that much sooner. If the half nuts stay closed under power, the spindle also
    coasts. None if the place is not known, or the relief is too narrow for the tool. Source: derived.
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
        # The thread must be complete before the drive is switched off.
        most = max(min(least, most), most - coasts_mm)
    if place.shoulder_at_mm is not None:
        most = min(most, place.shoulder_at_mm - half_mm)
    return min(least, most), most


def stop_settings(job: ThreadJob, lathe: Lathe, starts_on: int = 0) -> StopSettings | None:
    """Return the settings of the carriage dial to stop at; None if there is no such dial or the place is not known.

    starts_on: how many starts were cut since that dial was set. With straight infeed the compound has moved the tip
    on by a pitch for each of them, so that the carriage stops that much sooner.
    """
    carriage, place = lathe.dials.get(CARRIAGE), stopping_place_mm(job, lathe)
    if carriage is None or place is None:
        return None
    on_mm = starts_on * job.thread.pitch_mm if job.straight and "compound" in lathe.dials else 0.0
    first = math.ceil((place[0] - on_mm) / carriage.mark_mm - 1e-9)
    last = math.floor((place[1] - on_mm) / carriage.mark_mm + 1e-9)
    # With no mark inside the range, aim at the one before it: a little short spares the shoulder.
    aim = (first + last) // 2 if last > first else last
    return StopSettings(carriage.at_marks(aim), carriage.at_marks(last) if last > aim else None)


def stop_steps(job: ThreadJob, lathe: Lathe) -> list[Step]:
    """Return the step that prepares for stopping: set the carriage dial at the zero face, or else mark the bed.

    Never use a solid stop: the closed half nuts would drive the carriage against it. Common practice, no source.
    """
    carriage, stop = lathe.dials.get(CARRIAGE), stop_settings(job, lathe)
    if carriage is not None and stop is not None:
        return [_carriage_step(job, carriage, stop)]
    if job.from_chuck:
        return []
    if job.relief_mm is not None:
        how = "bring the tip by hand to the middle of the relief"
    elif job.length_mm is not None:
        how = f"mark the work {lathe.length_text(job.length_mm)} from {job.place.zero_face}, bring the tip to that mark"
    else:
        return []
    text = f"Stop: {how}. Mark the bed beside the carriage there"
    return [Step(action="check", title="Mark the stop", text=text, cautions=(NO_SOLID_STOP,))]


def _carriage_step(job: ThreadJob, carriage: Dial, stop: StopSettings) -> Step:
    """Return the step in which the carriage dial is set or read with the tip level with the zero face.

    In a pass closed half nuts move the carriage, and the carriage turns its handwheel. In a cut towards the chuck the
    handwheel is then at the side of its backlash that it takes when the handwheel winds the carriage away from the
    chuck. So the tip is brought to the face in that direction. A cut away from the chuck needs the dial for its start
    only, which the turner reaches by hand, towards the chuck. Source: derived.
    """
    side = "towards the chuck" if job.from_chuck else "away from the chuck. Closed half nuts keep it on that side"
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
    """Return in words where the carriage stops, from the zero face and on its dial; "" if that is not known.

    Without a dial on the carriage, the relief or a mark on the bed shows where.
    """
    place, stop, carriage = stopping_place_mm(job, lathe), stop_settings(job, lathe), lathe.dials.get(CARRIAGE)
    if place is None:
        return ""
    if stop is None or carriage is None:
        return "at a mark on the bed, the tip in the relief" if job.relief_mm is not None else "at a mark on the bed"
    least, most = place
    to = f" to {lathe.length_text(most)}" if most - least > 0.0005 else ""
    return f"tip {lathe.length_text(least)}{to} from {job.place.zero_face}; {_stop_words(carriage, stop)}"


def _stop_words(carriage: Dial, stop: StopSettings) -> str:
    latest = "" if stop.latest is None else f", {carriage.setting_text(stop.latest)} at the latest"
    return f"carriage {carriage.setting_text(stop.aim)}{latest}, from 0 at the face"


def _lost_turns(job: ThreadJob, lathe: Lathe) -> float:
    """Return how many turns the spindle coasts while the closed half nuts still move the carriage."""
    if lathe.spindle.coast_turns is None or not gearing(job.thread.exact_lead, lathe).nut_stays_closed:
        return 0.0
    return lathe.spindle.coast_turns
