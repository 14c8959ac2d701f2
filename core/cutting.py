"""Converts depths of cut into marks of a dial, and these marks into steps of a plan.

Every operation that cuts in passes uses this module.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

from core.inputs import PutBack, RunInput
from core.lathe.lathe import dial_words
from core.plan import Expects, Step, at_zero
from core.safety import TOUCH_OFF
from core.values.dials import Dial, Setting
from core.values.quantities import MM_PER_INCH

SCRATCH_DEPTH_MM = 0.02
"""The deepest setting of a scratch pass [mm]. The pass is set to the first mark at or above this depth."""
_PARTS_OF_A_MARK = 10**6
"""The number of parts into which one mark is divided. Depths are floats, so a smaller difference is a rounding error.
"""
MEASURED_DEPTH = "measured_depth_mm"
"""The key under which a step that cuts nothing keeps the measured depth [mm]."""


@dataclass(frozen=True, kw_only=True)
class Infeed:
    """The dial that sets the depth of cut, and the direction in which its slide moves.

    `travel_per_depth` is the slide's travel divided by the depth on the radius [-]. It is 1 for a slide square to the
    axis, and for a depth along the slide's own travel. For a compound swung off square by an angle, it is 1 /
    cos(angle).
    """

    dial: Dial
    outwards: bool = False
    direction: str = ""
    """The cutting direction in words, such as "towards the chuck"; "" if "in" and "out" are clear enough."""
    travel_per_depth: float = 1.0
    back_to_zero: tuple[Dial, ...] = ()
    """The dials that must be back at zero before every cut."""

    @cached_property
    def mark_mm(self) -> float:
        """The depth of cut that one mark of the dial makes, on the radius [mm]."""
        return self.dial.mark_mm / self.travel_per_depth

    def marks(self, depth_mm: float) -> int:
        """Return the whole number of marks that is nearest to a depth of cut [mm]."""
        return self.dial.marks(depth_mm * self.travel_per_depth)

    def depth_mm(self, marks: int | Fraction) -> float:
        """Return the depth of cut that a number of marks makes, on the radius [mm]."""
        return float(marks) * self.mark_mm

    def marks_deep(self, depth_mm: float) -> Fraction:
        """Return a depth of cut [mm] as a number of marks, rounded to a millionth of a mark."""
        return Fraction(round(depth_mm / self.mark_mm * _PARTS_OF_A_MARK), _PARTS_OF_A_MARK)

    def setting(self, marks: int, exact_depth_mm: float | None = None) -> Setting:
        """Return the dial's setting at a number of marks from zero.

        exact_depth_mm: the wanted depth [mm], so that the setting notes by how much it differs; None to note no
        difference.
        """
        sense = -1 if self.outwards else 1
        exact = None if exact_depth_mm is None else sense * exact_depth_mm * self.travel_per_depth
        return self.dial.at_marks(sense * marks, exact)

    def settings(self, marks: int, exact_depth_mm: float | None = None) -> tuple[Setting, ...]:
        """Return the setting of the infeed dial, followed by the settings of the dials that must be back at zero.

        `exact_depth_mm`: the wanted depth [mm], so that the infeed setting notes by how much it differs; None to note
        no difference.
        """
        return (self.setting(marks, exact_depth_mm), *(at_zero(dial) for dial in self.back_to_zero))

    def marks_at(self, position: Fraction) -> Fraction:
        """Return a dial position, counted from the dial's zero, as a number of marks into the work."""
        marks = self.dial.marks_at(position)
        return -marks if self.outwards else marks

    def set_words(self, marks: int) -> str:
        """Return in words the setting at a number of marks from zero, such as "compound to 1 turn and 0.42 mm"."""
        return self.words_of(self.setting(marks))

    def words_of(self, setting: Setting) -> str:
        return f"{dial_words(self.dial.name)} to {self.dial.setting_text(setting)}"


@dataclass(frozen=True, kw_only=True)
class Progress:
    """How far a run has cut. If the remaining steps are planned again, the new plan starts from here."""

    next_id: int
    depth_mm: float = 0.0
    """Depth on the radius after the last pass that removed metal [mm]."""
    positions: Mapping[str, Fraction] = field(default_factory=dict)
    """Each dial's position at the last pass, counted from its zero. A dial zeroed since that pass has no entry."""
    open_steps: tuple[Step, ...] = ()
    """The steps still to do, in order."""
    last_id: int = 0
    """The id of the last pass that removed metal."""
    cautions_given: frozenset[str] = frozenset()
    """The cautions that the finished steps have already shown."""
    done_steps: tuple[Step, ...] = ()
    """The steps done, in order."""
    skipped_steps: tuple[Step, ...] = ()
    put_back: PutBack | None = None
    """Where the work lies on the table since the user last put it back; None if the work was never put back."""

    def zeroed(self, dials: Collection[str]) -> "Progress":
        """Return the progress after some dials are set to zero, or if they must be set to zero before the next cut."""
        if not dials:
            return self
        return replace(self, positions={dial: at for dial, at in self.positions.items() if dial not in dials})

    def after(self, step: Step) -> "Progress":
        """Return the progress after a step. A cut that removes no metal changes nothing."""
        if step.depth_mm is None or takes_nothing(step):
            return self
        new_positions = {setting.dial: setting.position for setting in step.settings if isinstance(setting, Setting)}
        return replace(self, depth_mm=step.depth_mm, positions={**self.positions, **new_positions}, last_id=step.id)

    def marks(self, infeed: Infeed) -> Fraction:
        """Return the position of the infeed dial at the last pass, in marks from its zero; 0 before the first pass."""
        position = self.positions.get(infeed.dial.name)
        return Fraction(0) if position is None else infeed.marks_at(position)

    def depth_at_dial_mm(self, infeed: Infeed) -> float:
        """Return the depth to which the work is cut at the dial's present position [mm].

        If the work has been measured since the last pass, this is the measured depth instead of the depth by the dial.
        """
        # A pass that does not touch the work does not show how deep the work is.
        following = next((step for step in self.open_steps if not takes_nothing(step)), None)
        if following is None:
            return self.depth_mm
        setting, now = following.setting(infeed.dial.name), self.marks(infeed)
        if following.depth_mm is None or setting is None:
            # A repeated touch-off was planned from an older measurement.
            is_newer = following.id > self.last_id
            return float(following.extra.get(MEASURED_DEPTH, self.depth_mm)) if is_newer else self.depth_mm
        ahead = infeed.marks_at(setting.position) - now
        return self.depth_mm if ahead < 0 else following.depth_mm - infeed.depth_mm(ahead)


def with_measured_depth(step: Step, depth_mm: float) -> Step:
    """Return a copy of a step that cuts nothing, with the measured depth of cut [mm] in the copy's `extra`."""
    return replace(step, extra={**step.extra, MEASURED_DEPTH: depth_mm})


def depth_now_mm(open_steps: Iterable[Step], reached_mm: float | None) -> float:
    """Return the depth of cut before the next of `open_steps` [mm]: as measured, or otherwise by the dial.

    reached_mm: the depth after the last pass [mm], which is returned if no pass is open; None counts as 0.
    """
    for step in open_steps:
        if step.thread_start:
            break
        if step.depth_mm is not None:
            return max(step.depth_mm - (step.removed_mm or 0.0), 0.0)
    return reached_mm or 0.0


def takes_nothing(step: Step) -> bool:
    """Return whether a step's cut is set no deeper than the work is already cut, so that it removes no metal.

    For such a cut, old logs may hold a depth below 0.
    """
    return step.action == "cut" and step.removed_mm is not None and step.removed_mm <= 0


def progress_of(
    done: Iterable[Step],
    still_open: Iterable[Step],
    next_id: int,
    skipped: Iterable[Step] = (),
    entered: Iterable[RunInput] = (),
) -> Progress:
    """Return how far a run has cut, from the steps done and the steps still to do.

    A dial that was zeroed after the last pass starts from zero again. Each start of a thread and each position of a
    pattern begins at depth 0. `entered`: the inputs of the user so far in the run. `next_id`: the first step id that is
    still free.
    """
    reached, cautions, done_steps = Progress(next_id=next_id), set[str](), tuple(done)
    for step in done_steps:
        cautions.update(step.cautions)
        if step.action == "index" or step.thread_start:
            reached = Progress(next_id=next_id)
        reached = reached.zeroed(step.zeroed_dials).after(step)
    return replace(
        reached,
        open_steps=tuple(still_open),
        cautions_given=frozenset(cautions),
        done_steps=done_steps,
        skipped_steps=tuple(skipped),
        put_back=next((one for one in reversed(tuple(entered)) if isinstance(one, PutBack)), None),
    )


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
    """Return one cutting step for each mark in `marks`. Marks are counted from the dial's zero.

    `name`: the title of the steps. `from_marks` and `start_depth_mm`: the dial's mark and the depth of cut [mm] before
    the first step. `last_marks`: the mark at which the whole cut ends, from which each step states the depth still to
    go. `last_exact_depth_mm`: the wanted depth [mm], with which the depth at `last_marks` is compared; None for no
    comparison.
    """
    # Only the first position may be between two marks.
    start = from_marks.numerator if from_marks.denominator == 1 else from_marks
    steps, before = [], start
    for mark in marks:
        # A cut shallower than the last one removes nothing.
        reached = max(mark, before)
        removed = infeed.depth_mm(reached - before)
        remaining = infeed.depth_mm(max(last_marks - reached, 0))
        settings = infeed.settings(mark, last_exact_depth_mm if mark == last_marks else None)
        direction = f", {infeed.direction}" if infeed.direction else ""
        steps.append(
            Step(
                action="cut",
                title=name,
                text=f"{name}{direction}: {infeed.words_of(settings[0])}",
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
    """Return a spring pass: one more pass at a mark to which the work has already been cut.

    `depth_mm`: the depth of cut at that mark [mm]. `remaining_mm`: the depth still to cut [mm].
    """
    cut = Step(
        action="cut",
        text=infeed.set_words(marks),
        settings=infeed.settings(marks),
        depth_mm=depth_mm,
        remaining_mm=remaining_mm,
    )
    return spring_after(cut)


def spring_after(last: Step) -> Step:
    """Return a spring pass that repeats the pass `last` at the same dial reading."""
    text = last.text.removeprefix(f"{last.name}:").strip()
    return replace(
        last,
        action="spring",
        title="Spring pass",
        text=text if last.action == "spring" else f"Spring pass: {text} once more, at the same reading",
        removed_mm=0.0,
        cautions=(),
        findings=(),
    )


def touch_off_step(dial: Dial, text: str, shows_size_mm: float | None = None, *, touches: bool = True) -> Step:
    """Return the step at which the user sets a dial to zero, or enters its reading if the dial cannot be zeroed.

    `touches`: True if the tool touches the work at this step. `shows_size_mm`: the diameter at which the tool touches
    [mm]; None if it is not known. A dial that reads diameter, and whose numbers fall as the tool moves in, can be set
    to this diameter instead of zero.
    """
    shows = f"{dial_words(dial.name)} dial" if dial.per_turn else dial_words(dial.name)
    if not dial.can_zero:
        text += f". Enter the reading of the {shows}, which cannot be set to 0"
    elif shows_size_mm is not None and dial.reads_diameter and not dial.rising_inwards:
        size = dial.number_text(shows_size_mm if dial.unit == "mm" else shows_size_mm / float(MM_PER_INCH))
        text += f". Set the {shows} to 0. Or set it to {size} and enter {size}. The dial then shows the size itself"
    else:
        text += f". Set the {shows} to 0"
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


def backlash_words(dial: Dial) -> str:
    """Return a dial's backlash as text in brackets, such as " (0.30 mm)"; "" if the backlash is not known."""
    return f" ({dial.reading_text(dial.backlash)})" if dial.backlash else ""


def rounding_note(
    infeed: Infeed, marks: int, exact_depth_mm: float, on_diameter: bool, length_text: Callable[[float], str]
) -> str:
    """Return a sentence on how much too little or too much a cut to a whole mark removes; "" for less than 0.0005 mm.

    `marks`: the mark at which the cut ends. `exact_depth_mm`: the wanted depth [mm]. `on_diameter`: True to state the
    amount on the diameter, False to state it on the radius. `length_text`: returns a length [mm] as text.
    """
    left_mm = (exact_depth_mm - infeed.depth_mm(marks)) * (2 if on_diameter else 1)
    if abs(left_mm) < 0.0005:
        return ""
    where = " on the diameter" if on_diameter else ""
    if left_mm > 0:
        return f"At the last mark, {length_text(left_mm)}{where} is still uncut."
    return f"At the last mark, {length_text(-left_mm)}{where} too much is cut off."
