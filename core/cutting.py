"""Infeed along one dial: depths into marks, marks into cut steps. All cutting operations use it."""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

from core.lathe.lathe import dial_words
from core.plan import Expects, Step, at_zero
from core.safety import TOUCH_OFF
from core.values.dials import Dial, Setting
from core.values.quantities import MM_PER_INCH

SCRATCH_DEPTH_MM = 0.02
"""A scratch pass is set to the first mark at or above this depth."""
_PARTS_OF_A_MARK = 10**6
"""Depths are floats: below so small a part of a mark they say nothing."""
MEASURED_DEPTH = "measured_depth_mm"
"""Among the extras of a step that cuts nothing: how deep the work was measured to be [mm]."""


@dataclass(frozen=True, kw_only=True)
class Infeed:
    """The dial that depth is set on, and how its slide lies.

    `travel_per_depth` is slide travel for depth on the radius [-]: 1 / cos(compound angle)
    for a compound swung off square, 1 for a slide square to the axis or for plain travel.
    """

    dial: Dial
    outwards: bool = False
    direction: str = ""
    """Which way it cuts, in words: "towards the chuck"; "" where in and out say it."""
    travel_per_depth: float = 1.0
    back_to_zero: tuple[Dial, ...] = ()
    """Dials that go back to zero before every cut."""

    @cached_property
    def mark_mm(self) -> float:
        """Depth of one mark on the radius [mm]."""
        return self.dial.mark_mm / self.travel_per_depth

    def marks(self, depth_mm: float) -> int:
        """Return the number of marks nearest to a depth [mm]."""
        return self.dial.marks(depth_mm * self.travel_per_depth)

    def depth_mm(self, marks: int | Fraction) -> float:
        """Return the depth [mm] of a number of marks."""
        return float(marks) * self.mark_mm

    def marks_deep(self, depth_mm: float) -> Fraction:
        """Return a depth [mm] in marks, between two of them where it lies so; exact to a millionth of one."""
        return Fraction(round(depth_mm / self.mark_mm * _PARTS_OF_A_MARK), _PARTS_OF_A_MARK)

    def setting(self, marks: int, exact_depth_mm: float | None = None) -> Setting:
        """Return what the dial shows `marks` marks deep, with the rounding against the exact depth."""
        sense = -1 if self.outwards else 1
        exact = None if exact_depth_mm is None else sense * exact_depth_mm * self.travel_per_depth
        return self.dial.at_marks(sense * marks, exact)

    def settings(self, marks: int, exact_depth_mm: float | None = None) -> tuple[Setting, ...]:
        """Return the dial's setting, then the dials that must be back at zero."""
        return (self.setting(marks, exact_depth_mm), *(at_zero(dial) for dial in self.back_to_zero))

    def marks_at(self, position: Fraction) -> Fraction:
        """Return how many marks deep a reading counted from zero is."""
        marks = self.dial.marks_at(position)
        return -marks if self.outwards else marks

    def set_words(self, marks: int) -> str:
        """Return what to set in words: "compound to 1 turn and 0.42 mm"."""
        return self.words_of(self.setting(marks))

    def words_of(self, setting: Setting) -> str:
        """Return a setting of this dial in words."""
        return f"{dial_words(self.dial.name)} to {self.dial.setting_text(setting)}"


@dataclass(frozen=True, kw_only=True)
class Progress:
    """Where a run stands, as planning again needs it."""

    next_id: int
    depth_mm: float = 0.0
    """On the radius, after the last pass that took something."""
    positions: Mapping[str, Fraction] = field(default_factory=dict)
    """Where each dial stood at the deepest pass taken, counted from its zero; none for a dial zeroed since."""
    open_steps: tuple[Step, ...] = ()
    """What is still to be done, in order."""
    last_id: int = 0
    """Of the last pass that took something."""
    cautions_given: frozenset[str] = frozenset()
    """The cautions of the steps done."""

    def zeroed(self, dials: Collection[str]) -> "Progress":
        """Return the same with dials that are set to zero, or will be before the next cut."""
        if not dials:
            return self
        return replace(self, positions={dial: at for dial, at in self.positions.items() if dial not in dials})

    def after(self, step: Step) -> "Progress":
        """Return where the run stands once a step is done; a cut set shallower than the last leaves it as it was."""
        if step.depth_mm is None or takes_nothing(step):
            return self
        stood_at = {setting.dial: setting.position for setting in step.settings if isinstance(setting, Setting)}
        return replace(self, depth_mm=step.depth_mm, positions={**self.positions, **stood_at}, last_id=step.id)

    def marks(self, infeed: Infeed) -> Fraction:
        """Return how many marks deep the infeed dial stood at the last pass, 0 where none was taken."""
        position = self.positions.get(infeed.dial.name)
        return Fraction(0) if position is None else infeed.marks_at(position)

    def depth_at_dial_mm(self, infeed: Infeed) -> float:
        """Return how deep the work is where the dial stands now [mm]; a measurement counts before the dial's own count.

        What was measured since the last pass is known by the next open step, which was
        planned from it; a step that is only to be done again knows nothing newer.
        """
        # A pass set out of the work leaves it as it is, and so knows nothing of it.
        following = next((step for step in self.open_steps if not takes_nothing(step)), None)
        if following is None:
            return self.depth_mm
        setting, now = following.setting(infeed.dial.name), self.marks(infeed)
        if following.depth_mm is None or setting is None:
            # A touching-off that is only to be done again was planned from an older measurement.
            is_newer = following.id > self.last_id
            return float(following.extra.get(MEASURED_DEPTH, self.depth_mm)) if is_newer else self.depth_mm
        ahead = infeed.marks_at(setting.position) - now
        return self.depth_mm if ahead < 0 else following.depth_mm - infeed.depth_mm(ahead)


def knowing_depth(step: Step, depth_mm: float) -> Step:
    """Return a step that cuts nothing and knows how deep the work was measured to be [mm]."""
    return replace(step, extra={**step.extra, MEASURED_DEPTH: depth_mm})


def depth_now_mm(open_steps: Iterable[Step], reached_mm: float | None) -> float:
    """Return how deep the work is before the next pass [mm], as that pass was planned from: by the dial, or measured.

    reached_mm: what the last pass done reached, for a run in whose groove no pass is left.
    """
    for step in open_steps:
        if step.thread_start:
            break
        if step.depth_mm is not None:
            return max(step.depth_mm - (step.removed_mm or 0.0), 0.0)
    return reached_mm or 0.0


def takes_nothing(step: Step) -> bool:
    """Return whether a cut was set no deeper than the work is already; old logs have such cuts below 0."""
    return step.action == "cut" and step.removed_mm is not None and step.removed_mm <= 0


def progress_of(done: Iterable[Step], still_open: Iterable[Step], next_id: int) -> Progress:
    """Return where a run stands, from the steps done, in order, and those still open.

    A dial that was set to zero after the last pass stands at its zero again;
    another start of a thread, and another position of a pattern, begin at depth 0.
    """
    reached, given = Progress(next_id=next_id), set[str]()
    for step in done:
        given.update(step.cautions)
        if step.action == "index" or step.thread_start:
            reached = Progress(next_id=next_id)
        reached = reached.zeroed(step.zeroed_dials).after(step)
    return replace(reached, open_steps=tuple(still_open), cautions_given=frozenset(given))


def cut_steps(
    infeed: Infeed,
    marks: Sequence[int],
    *,
    name: str,
    from_marks: Fraction = Fraction(0),
    start_depth_mm: float = 0.0,
    last_marks: int,
    last_exact_depth_mm: float | None = None,
) -> list[Step]:
    """Return a cut step for each number of marks (from zero).

    `from_marks` and `start_depth_mm` say where the dial stands and how deep the
    cut is before the first of them; `last_marks` is the last planned mark, from
    which what remains is counted; its rounding is against `last_exact_depth_mm`.
    """
    # From mark to mark whole numbers do; only where the dial stands now may lie between two.
    start = from_marks.numerator if from_marks.denominator == 1 else from_marks
    steps, before = [], start
    for mark in marks:
        # A cut set shallower than the last takes nothing, and leaves the work as deep as it is.
        reached = max(mark, before)
        removed = infeed.depth_mm(reached - before)
        remaining = infeed.depth_mm(max(last_marks - reached, 0))
        settings = infeed.settings(mark, last_exact_depth_mm if mark == last_marks else None)
        way = f", {infeed.direction}" if infeed.direction else ""
        steps.append(
            Step(
                action="cut",
                title=name,
                text=f"{name}{way}: {infeed.words_of(settings[0])}",
                settings=settings,
                depth_mm=start_depth_mm + infeed.depth_mm(reached - start),
                removed_mm=removed,
                remaining_mm=remaining,
                extra={"direction": infeed.direction} if infeed.direction else {},
            )
        )
        before = reached
    return steps


def spring_step(infeed: Infeed, marks: int, depth_mm: float, remaining_mm: float) -> Step:
    """Return a spring pass at a mark to which the work is cut already."""
    cut = Step(
        action="cut",
        text=infeed.set_words(marks),
        settings=infeed.settings(marks),
        depth_mm=depth_mm,
        remaining_mm=remaining_mm,
    )
    return spring_after(cut)


def spring_after(last: Step) -> Step:
    """Return a pass once more at the same reading, which takes what the work sprang away."""
    text = last.text.removeprefix(f"{last.name}:").strip()
    return replace(
        last,
        action="spring",
        title="Spring pass",
        text=text if last.action == "spring" else f"Spring pass: {text} once more, as it stands",
        removed_mm=0.0,
        cautions=(),
        findings=(),
    )


def touch_off_step(dial: Dial, text: str, shows_size_mm: float | None = None, *, touches: bool = True) -> Step:
    """Return the step that sets a dial to zero, or takes what it shows as zero; `touches`: the tool on the work.

    `shows_size_mm` is the diameter touched, for a dial that could show the size
    itself: one that reads diameter and whose numbers fall going in.
    """
    if not dial.can_zero:
        text += f", and type what it shows: the {dial_words(dial.name)} cannot be set to 0"
    elif shows_size_mm is not None and dial.reads_diameter and not dial.rising_inwards:
        size = dial.number_text(shows_size_mm if dial.unit == "mm" else shows_size_mm / float(MM_PER_INCH))
        text += f", then set it to 0 (or to {size}, and type that: it then shows the size itself)"
    else:
        text += ", then set it to 0"
    return Step(
        action="set",
        title=f"Touch off the {dial_words(dial.name)}" if touches else f"Set the {dial_words(dial.name)} to 0",
        text=text,
        settings=(at_zero(dial),),
        zeroed_dials=(dial.name,),
        expects=Expects.READING,
        cautions=(TOUCH_OFF,) if touches else (),
        required=not dial.can_zero,
    )


def play_words(dial: Dial) -> str:
    """Return how much play to take up, where the lathe file says it."""
    return f" (play {dial.reading_text(dial.backlash)})" if dial.backlash else ""


def rounding_note(
    infeed: Infeed, marks: int, exact_depth_mm: float, on_diameter: bool, say: Callable[[float], str]
) -> str:
    """Say what the last mark leaves against the wanted size, "" where it is nothing."""
    left_mm = (exact_depth_mm - infeed.depth_mm(marks)) * (2 if on_diameter else 1)
    if abs(left_mm) < 0.0005:
        return ""
    what = "on the diameter" if on_diameter else "of travel"
    how = "short of" if left_mm > 0 else "beyond"
    return f"the last mark ends {say(abs(left_mm))} {what} {how} the wanted size"
