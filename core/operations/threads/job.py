"""Reads and checks the input for one thread: blank, tool, passes, and positions along the axis.

All positions along the axis are counted from one zero face towards the chuck. The turner sets the carriage dial to 0
with the tip level with that face. The dial then shows the positions of the thread, the relief (undercut) and the
shoulder.
"""

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

from core.cutting import Infeed
from core.lathe.lathe import Lathe
from core.operations.lengths import END_FACE, MOUTH
from core.operations.threads.designation import read_thread
from core.operations.threads.groove import Groove, ToolTip, groove_for
from core.operations.threads.schedule import PassLimits
from core.operations.threads.thread import LengthText, Thread
from core.values.errors import CoreError, PlanError
from core.values.fields import Table
from core.values.quantities import mm_text

RELIEF_EDGE = "the edge of the relief"
"""The name of the zero face if only the relief is known."""


class AxialPlace(NamedTuple):
    """The axial positions of a thread, its relief and its shoulder [mm], counted from the zero face towards the chuck.

    A position is None if it is not known.
    """

    zero_face: str = END_FACE
    thread_at_mm: float = 0.0
    """Where the thread starts."""
    length_mm: float | None = None
    """Length of the thread."""
    relief_mm: float | None = None
    """Width of the relief."""
    relief_at_mm: float | None = None
    """Where the relief starts; without a relief, where the thread ends."""
    shoulder_at_mm: float | None = None
    """Position of the shoulder, or of the bottom of a blind bore."""


def read_axial_place(table: Table, lathe: Lathe, *, internal: bool) -> AxialPlace:
    """Return the axial positions that a job's table gives, such as `thread_at`, `length` and `shoulder_at`.

    Positions that are not entered follow from the others: the relief starts at the end of the thread, and the shoulder
    is the far wall of the relief. Positions that contradict each other are recorded as problems in `table`. `internal`:
    True for a thread in a bore.
    """
    face = table.text("zero_face", longest=40)
    start = table.length("thread_at", least=0) or 0.0
    length, relief = table.length("length", above=0), table.length("relief", above=0)
    relief_at, shoulder_at = table.length("relief_at", above=0), table.length("shoulder_at", above=0)
    if relief_at is None and length is not None:
        relief_at = start + length
    elif relief_at is None and shoulder_at is not None and relief is not None:
        relief_at = shoulder_at - relief
    if length is None and relief_at is None and relief is not None and face is None and not start:
        # If only the relief is known, its near edge is the zero face.
        return AxialPlace(zero_face=RELIEF_EDGE, relief_mm=relief, relief_at_mm=0.0, shoulder_at_mm=relief)
    if relief_at is not None and not _in_order(
        table, lathe, "relief_at" if table.has("relief_at") else "shoulder_at", start, relief_at, length
    ):
        return AxialPlace()
    if relief_at is not None and length is None:
        length = relief_at - start
    if shoulder_at is not None:
        end = (relief_at if relief_at is not None else start) + (relief or 0.0)
        if shoulder_at < end - 1e-9:
            too_near = f"{lathe.length_text(shoulder_at)} is before the end of the thread and its relief."
            table.problem("shoulder_at", f"{too_near} Enter {lathe.length_text(end)} or more.")
    elif relief_at is not None and relief is not None:
        shoulder_at = relief_at + relief
    return AxialPlace(
        zero_face=face or (MOUTH if internal else END_FACE),
        thread_at_mm=start,
        length_mm=length,
        relief_mm=relief,
        relief_at_mm=relief_at,
        shoulder_at_mm=shoulder_at,
    )


def _in_order(table: Table, lathe: Lathe, key: str, start: float, relief_at: float, length: float | None) -> bool:
    """Return True if the relief starts at or after the end of the thread.

    Otherwise record a problem under `key` and return False. `start`, `relief_at`: positions from the zero face [mm].
    `length`: the length of the thread [mm]; None if it is not entered.
    """
    end = start + (length or 0.0)
    if relief_at <= start or relief_at < end - 1e-9:
        table.problem(
            key,
            f"The relief would start at {lathe.length_text(relief_at)}, before the thread ends at "
            f"{lathe.length_text(end)}. Enter all positions as distances from the zero face towards the chuck.",
        )
        return False
    return True


_LEAST_ROOM_MM = 0.5
"""A blank whose diameter is wrong by at most this much, or by at most one pitch, gets only a caution.

Common practice, no source.
"""


def blank_default_mm(thread: Thread) -> float:
    """Return the diameter to assume for a blank (for an internal thread: a bore) that has not been measured [mm].

    This is the middle of the crest's limits: those of the major diameter for an external thread, and those of the minor
    diameter for an internal thread. Without limits, it is the basic size.

    >>> from core.operations.threads.designation import read_thread
    >>> [round(blank_default_mm(read_thread(text)), 4) for text in ("M30x3.5-6g", "M10-6H")]
    [29.7345, 8.526]
    """
    limits = thread.limits
    largest, least = limits.major_max_mm, limits.major_min_mm
    basic = thread.major_basic_mm
    if thread.internal:
        largest, least, basic = limits.minor_max_mm, limits.minor_min_mm, thread.minor_basic_mm
    if largest is None or least is None:
        return basic
    return (largest + least) / 2


def refuse_blank(thread: Thread, blank_mm: float, length_text: LengthText = mm_text) -> None:
    """Raise PlanError for a blank far above the crest of its thread or, for an internal thread, a bore far below it.

    Otherwise a typing error would lead to a plan of hundreds of passes. A diameter that is wrong by one pitch or less
    is planned with a caution. `length_text`: a function that returns a length [mm] as text.

    >>> from core.operations.threads.designation import read_thread
    >>> refuse_blank(read_thread("M27"), 28.5)
    """
    limits, room_mm = thread.limits, max(thread.pitch_mm, _LEAST_ROOM_MM)
    if thread.internal:
        crest_mm = thread.minor_basic_mm if limits.minor_min_mm is None else limits.minor_min_mm
        bound_mm, is_off = crest_mm - room_mm, blank_mm < crest_mm - room_mm
        what, off, advice = "bore", "small", f"Enter at least {length_text(bound_mm)}, or bore the hole out first."
    else:
        crest_mm = thread.major_basic_mm if limits.major_max_mm is None else limits.major_max_mm
        bound_mm, is_off = crest_mm + room_mm, blank_mm > crest_mm + room_mm
        what, off, advice = "blank", "large", f"Enter at most {length_text(bound_mm)}, or turn the blank down first."
    if is_off:
        raise PlanError(
            f"A {what} of {length_text(blank_mm)} is too {off} for {thread.designation}, which has its crest at "
            f"{length_text(crest_mm)}. {advice}",
            field="blank",
        )


DEEPEST_PASS_MM = 0.25
LIGHTEST_PASS_MM = 0.03
SPRING_PASSES = 2
FLAT_ROOTED_DEG = 15.0
"""The largest half angle of threads with a wide flat root: trapezoidal and Acme."""


@dataclass(frozen=True, kw_only=True)
class ThreadJob:
    """The checked input for one thread. Lengths are in mm.

    A value is None if the user entered no value and there is no usual value.
    """

    thread: Thread
    blank_mm: float
    blank_measured: bool
    tip: ToolTip
    limits: PassLimits
    relief_mm: float | None = None
    relief_diameter_mm: float | None = None
    from_chuck: bool = False
    length_mm: float | None = None
    compound_angle_deg: float | None = None
    """The angle of the compound off square to the axis [deg]; None for straight infeed."""
    passes: int | None = None
    spring_passes: int = SPRING_PASSES
    speed_rpm: float | None = None
    wire_mm: float | None = None
    place: AxialPlace = field(default_factory=AxialPlace)

    @cached_property
    def groove(self) -> Groove:
        """The groove to cut into the blank, with its depth. Raises PlanError if this groove cannot be cut."""
        return groove_for(self.thread, self.blank_mm, self.tip)

    @property
    def straight(self) -> bool:
        """True for straight infeed, in which the cross-slide alone sets the depth of each pass."""
        return self.compound_angle_deg is None

    def infeed(self, lathe: Lathe) -> Infeed:
        """Return the infeed for this thread on a lathe. Raise PlanError if the lathe lacks a dial for this infeed."""
        cross_slide = lathe.dial("cross_slide")
        if self.compound_angle_deg is None:
            return Infeed(dial=cross_slide, outwards=self.thread.internal)
        return Infeed(
            dial=lathe.dial("compound", "use straight infeed"),
            outwards=self.thread.internal,
            travel_per_depth=1 / cos_deg(self.compound_angle_deg),
            back_to_zero=(cross_slide,),
        )


def cos_deg(angle_deg: float) -> float:
    return math.cos(math.radians(angle_deg))


def read_thread_job(table: Table, lathe: Lathe) -> ThreadJob | None:
    """Return the checked input of a `thread` operation; None after recording a problem in `table`."""
    before = len(table.problems)
    thread = _read_thread(table, lathe)
    as_entered: dict[str, Any] = {
        "relief_diameter_mm": table.length("relief_diameter", above=0),
        "from_chuck": table.word("runs", ("to the chuck", "from the chuck")) == "from the chuck",
        "passes": table.whole("passes", least=1, most=1000),
        "speed_rpm": table.value("speed", "rotation", above=0, most=100_000),
        "wire_mm": table.length("wire", above=0),
    }
    place = read_axial_place(table, lathe, internal=thread is not None and thread.internal)
    springs = table.whole("spring_passes", least=0, most=20)
    blank = table.length("blank", above=0)
    flat, radius = table.length("tool_flat", least=0), table.length("tool_radius", least=0)
    if flat is not None and radius is not None:
        table.problem("tool_radius", "The tip of a tool has either a flat or a radius. Enter only one of the two.")
    limits = _read_limits(table, thread, lathe)
    compound_angle = _read_infeed(table, lathe, thread)
    if thread is None:
        return None
    if flat is None and radius is None:
        flat = usual_flat_mm(thread)
    tip = ToolTip(half_angle_deg=thread.half_angle_deg, flat_mm=flat or 0.0, radius_mm=radius or 0.0)
    blank_mm = blank if blank is not None else blank_default_mm(thread)
    _note_impossible(table, thread, blank_mm, tip, lathe)
    if limits is None or len(table.problems) > before:
        return None
    job = ThreadJob(
        thread=thread,
        blank_mm=blank_mm,
        blank_measured=blank is not None,
        tip=tip,
        compound_angle_deg=compound_angle,
        limits=limits,
        relief_mm=place.relief_mm,
        length_mm=place.length_mm,
        place=place,
        spring_passes=SPRING_PASSES if springs is None else springs,
        **as_entered,
    )
    return job if _has_dials(table, job, lathe) else None


def _note_impossible(table: Table, thread: Thread, blank_mm: float, tip: ToolTip, lathe: Lathe) -> None:
    """Record a problem in `table` if this thread cannot be cut in this blank with this tool."""
    try:
        groove_for(thread, blank_mm, tip, lathe.length_text)
    except PlanError as error:
        table.problem(error.field, error.message)


def _has_dials(table: Table, job: ThreadJob, lathe: Lathe) -> bool:
    """Return True if the lathe has the dials for the infeed. Otherwise record a problem in `table` and return False."""
    try:
        job.infeed(lathe)
    except PlanError as error:
        table.problem(error.field, error.message)
        return False
    return True


def _read_thread(table: Table, lathe: Lathe) -> Thread | None:
    side = table.word("side", ("outside", "inside"))
    designation = table.text("thread", longest=60)
    custom = [key for key in ("form", "major", "pitch") if table.has(key)]
    if table.has("thread"):
        if custom:
            table.problem(
                custom[0],
                "The designation already sets the thread. Enter either the designation, or the form, the major "
                "diameter and the pitch.",
            )
        if designation is None or custom:
            return None
        try:
            return read_thread(designation, side=side)
        except CoreError as error:
            table.problem(error.field or "thread", error.message)
            return None
    if not custom:
        table.problem("thread", 'Enter a thread such as "M30x3.5-6g", or enter "form", "major" and "pitch".')
        return None
    return _read_custom(table, side, lathe)


def _read_custom(table: Table, side: str | None, lathe: Lathe) -> Thread | None:
    form = table.angle("form", required=True, above=0, most=120)
    major = table.length("major", required=True, above=0)
    pitch = table.quantity("pitch", "pitch", required=True, above=0)
    if form is None or major is None or pitch is None:
        return None
    from core.operations.threads.profiles import custom_thread

    try:
        return custom_thread(
            included_angle_deg=form,
            major_mm=major,
            pitch_mm=pitch.value,
            internal=side == "inside",
            length_text=lathe.length_text,
        )
    except CoreError as error:
        table.problem(error.field or "form", error.message)
        return None


def _read_limits(table: Table, thread: Thread | None, lathe: Lathe) -> PassLimits | None:
    """Return the limits for the deepest and the lightest pass; None after recording a problem, or if `thread` is None.

    The usual deepest pass is an eighth of the pitch, at most 0.25 mm. The usual lightest pass is 0.03 mm.
    """
    deepest = table.length("deepest_pass", above=0)
    lightest = table.length("lightest_pass", above=0)
    if thread is None:
        return None
    most = deepest if deepest is not None else min(DEEPEST_PASS_MM, thread.pitch_mm / 8)
    least = lightest if lightest is not None else min(LIGHTEST_PASS_MM, most)
    if least > most:
        table.problem(
            "lightest_pass",
            f"{lathe.length_text(least)} is too deep for one pass. Enter at most {lathe.length_text(most)}.",
        )
        return None
    return PassLimits(deepest_mm=most, lightest_mm=least)


def _read_infeed(table: Table, lathe: Lathe, thread: Thread | None) -> float | None:
    """Return the compound angle [deg]; None for straight infeed, or after recording a problem in `table`."""
    usual = "flank" if "compound" in lathe.dials else "straight"
    infeed = table.word("infeed", ("flank", "straight")) or usual
    compound_angle = table.angle("compound_angle", least=0, most=60)
    if infeed == "straight":
        if table.has("compound_angle"):
            table.problem(
                "compound_angle", "Straight infeed has no compound angle. Choose flank infeed, or delete the angle."
            )
        return None
    if compound_angle is not None or thread is None:
        return compound_angle
    return usual_compound_angle_deg(lathe, thread.half_angle_deg)


def usual_flat_mm(thread: Thread) -> float:
    """Return the usual flat on a thread's tool [mm]: the standard's own flat for an included angle of 30 or 29 degrees,
    otherwise 0.

    At these angles, a sharp tool would have to cut half as deep again, for no benefit. Source: ISO 2904, 0.366 P -
    0.536 ac; ASME B1.5, 0.3707 P - 0.259 x clearance on the diameter.
    """
    return thread.root_flat_mm if thread.half_angle_deg <= FLAT_ROOTED_DEG else 0.0


def usual_compound_angle_deg(lathe: Lathe, half_angle_deg: float) -> float:
    """Return the usual compound angle [deg]: the largest angle marked on the scale below the thread's half angle.

    If the compound's scale is too short or is not described, return the largest multiple of its graduation below the
    half angle. An unknown graduation counts as 1 degree.
    """
    scale = lathe.compound
    mark = scale.largest_mark_below_deg(half_angle_deg) if scale else None
    if mark is not None:
        return mark
    graduation = scale.graduation_deg if scale else 1.0
    count = int((half_angle_deg - 1e-9) / graduation)
    return count * graduation if count else half_angle_deg
