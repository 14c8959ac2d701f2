"""Where a cut starts and ends along the axis, and how the turner finds these positions: by carriage dial, stop or rule.

All positions count from one face towards the chuck [mm]. The tool is touched off on this face. The carriage always
moves towards the chuck to the face and to each position, so that its backlash is always taken up on the same side.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Final, Literal, NamedTuple

from core.cutting import backlash_words, touch_off_step
from core.lathe.lathe import CARRIAGE, Lathe
from core.operations.axes.stack import best_stack
from core.plan import Step
from core.safety import STOP_FIRST
from core.values.dials import Dial, Setting, ZeroedDials
from core.values.fields import Table
from core.values.quantities import MM_PER_INCH

END_FACE, MOUTH = "the end face", "the mouth of the bore"
"""The name of the zero face outside and in a bore, if the user enters no name."""
DIAL: Final = "carriage dial"
STOP: Final = "stop"
RULE: Final = "rule"
LengthsBy = Literal["carriage dial", "stop", "rule"]
Edge = Literal["left", "right"]
"""An edge of the tool, as the turner sees the tool. The left edge is nearer to the chuck."""

ENDS = "ends_at_mm"
"""Key in `Step.extra` for the end of a pass, from the face [mm]. A groove has one number for each plunge."""
SHIFT = "length_shift_mm"
"""Key in `Step.extra` of a pass: how much more the carriage dial reads than the true length [mm]."""
SPACERS = "spacers_mm"
"""Key in `Step.extra` of a cut's first pass: the length of the spacers to put against the carriage stop [mm]."""
_FURTHER = "; then feed"
"""Start of the part of a pass's text that says where the feed ends."""
_PLUNGED = "; plunge at "
"""Start of the part of a groove's text that says where the carriage is locked for each plunge."""
_HALF_MM, _SIXTY_FOURTHS = 0.5, 64
"""The finest marks of a rule: half millimetres or 64ths of an inch. Common practice, no source."""
_OVERLAP = 0.8
"""The largest step between plunges of a wide groove, in tool widths. Common practice, no source."""
_MOST_PLUNGES = 6
_SEEN_MM = 0.005
"""Smallest difference between a wanted length and the nearest mark that gets a caution [mm]."""
SET_STOP, SCRIBE = "Set the carriage stop", "Scribe the lengths"
"""Titles of the steps that set up the lengths by a carriage stop or by a rule."""
FEED_BY_HAND = "Switch the feed off early, then wind by hand, so that the dial reads true."
STOP_BY_HAND = "Switch the feed off before the stop. Feeding into it breaks feed and stop."


class CutLength(NamedTuple):
    """Where a cut starts and ends along the axis [mm], counted from one face towards the chuck."""

    starts_mm: float
    ends_mm: float
    by: LengthsBy
    face: str = END_FACE
    edge: Edge = "left"
    """The edge of the tool that is level with the face when the dial or stop is set."""
    tool_width_mm: float | None = None
    """Width of a grooving tool, which plunges from wall to wall; None for a tool that feeds along."""
    short_mm: float = 0.0
    """How far before the end all passes but the last stop. The last pass then cleans the shoulder."""
    stop_mm: float | None = None
    """Position of the carriage stop, if another shoulder sets it; None if it is at the end of this cut."""

    @property
    def places_mm(self) -> tuple[float, ...]:
        """Positions, from the face [mm], of the tool edge that touched off: the end of the feed, or each plunge of a
        groove.
        """
        if self.tool_width_mm is None:
            return (self.ends_mm,)
        free_mm = self.ends_mm - self.starts_mm - self.tool_width_mm
        count = math.ceil(free_mm / (_OVERLAP * self.tool_width_mm) - 1e-9) + 1 if free_mm > 1e-9 else 1
        first = self.starts_mm + (self.tool_width_mm if self.edge == "left" else 0.0)
        return tuple(first + free_mm * number / max(count - 1, 1) for number in range(count))

    @property
    def stop_at_mm(self) -> float:
        """The position of the carriage stop, counted from the face [mm]."""
        return self.places_mm[-1] if self.stop_mm is None else self.stop_mm

    @property
    def beyond_mm(self) -> float:
        """The distance from the tool edge that touched off, at its last position, to the end of the cut [mm]."""
        return self.ends_mm - self.places_mm[-1]


def read_cut_length(table: Table, lathe: Lathe, *, groove: bool = False, inside: bool = False) -> CutLength | None:
    """Return where a cut starts and ends along the axis; None if the table states no length or an entry is wrong.

    `groove`: True for a groove. `inside`: True for a cut in a bore.
    """
    before, keys = len(table.problems), ["zero_face", "starts_at", "lengths_by"]
    face = table.text("zero_face", longest=40) or (MOUTH if inside else END_FACE)
    starts = table.length("starts_at", least=0)
    ends = table.length("ends_at", above=0)
    by = read_lengths_by(table, lathe)
    width: float | None = None
    edge: Edge = "left"
    if groove:
        keys += ["tool_width", "touched_edge"]
        width = table.length("tool_width", above=0)
        edge = "right" if table.word("touched_edge", ("left", "right")) == "right" else "left"
    if len(table.problems) > before:
        return None
    if ends is None:
        entered = next((key for key in keys if table.has(key)), None)
        if entered:
            table.problem(
                "ends_at",
                f'"{entered}" is entered without "ends_at". Enter how far the end of the cut is from the face, such as '
                "22 mm.",
            )
        return None
    length = CutLength(starts or 0.0, ends, by, face, edge, width)
    return length if _possible(table, lathe, length, groove=groove) else None


def read_lengths_by(table: Table, lathe: Lathe) -> LengthsBy:
    """Return how the turner finds lengths: as the table states, otherwise by carriage dial, or by rule if there is no
    such dial.
    """
    by = table.word("lengths_by", (DIAL, STOP, RULE))
    if by == DIAL and CARRIAGE not in lathe.dials:
        table.problem("lengths_by", f'This lathe ({lathe.name}) has no carriage dial. Enter "stop" or "rule".')
    if by is None:
        return DIAL if CARRIAGE in lathe.dials else RULE
    return STOP if by == STOP else RULE if by == RULE else DIAL


def _possible(table: Table, lathe: Lathe, length: CutLength, *, groove: bool) -> bool:
    """Return whether start, end and tool width fit each other. If not, add the error to the table's problems.

    `groove`: True for a groove.
    """
    text, wide_mm = lathe.length_text, length.ends_mm - length.starts_mm
    if wide_mm <= 0:
        words = (
            f"The end, {text(length.ends_mm)}, is not further from the face than the start, {text(length.starts_mm)}"
        )
        table.problem("ends_at", f"{words}. Enter both as distances from the face towards the chuck.")
    elif groove and length.tool_width_mm is None:
        table.problem(
            "tool_width", 'Missing, although "ends_at" is entered. Enter the width of the grooving tool, such as 3 mm.'
        )
    elif groove and length.tool_width_mm and length.tool_width_mm > wide_mm + 1e-9:
        words = f"A tool of {text(length.tool_width_mm)} is wider than the groove, {text(wide_mm)}"
        table.problem("tool_width", f"{words}. Use a narrower tool and enter its width.")
    elif len(length.places_mm) > _MOST_PLUNGES:
        words = (
            f"A groove {text(wide_mm)} wide takes {len(length.places_mm)} plunges with this tool; at most "
            f"{_MOST_PLUNGES} are allowed"
        )
        table.problem("tool_width", f"{words}. Enter a wider tool, or turn this part of the work as a diameter.")
    else:
        return True
    return False


# Positions on the dial and on a rule.


def carriage_settings(length: CutLength, carriage: Dial, shift_mm: float, *, short: bool) -> tuple[Setting, ...]:
    """Return the settings of the carriage dial in a pass, counted from 0 at the face.

    `shift_mm`: how much more the dial reads than the true length [mm]. `short`: True for a pass that stops before the
    end, so that the finishing pass can clean the shoulder.
    """
    settings = tuple(carriage.at_travel(place_mm + shift_mm) for place_mm in length.places_mm)
    if not short or not length.short_mm or length.tool_width_mm is not None:
        return settings
    last = carriage.marks(length.ends_mm + shift_mm)
    before = last - max(1, carriage.marks(length.short_mm))
    return (carriage.at_marks(before),) if before > 0 else settings


def on_a_rule_mm(place_mm: float, unit: str) -> float:
    """Return the mark of a rule nearest to a position [mm]. Half-way between two marks, return the lower mark.

    `unit`: "mm" for a metric rule, "in" for an inch rule.

    >>> on_a_rule_mm(22.25, "mm"), on_a_rule_mm(22.3, "mm"), round(on_a_rule_mm(22.0, "in"), 3)
    (22.0, 22.5, 21.828)
    """
    mark_mm = _HALF_MM if unit == "mm" else float(MM_PER_INCH) / _SIXTY_FOURTHS
    return max(1, math.ceil(place_mm / mark_mm - 0.5 - 1e-9)) * mark_mm


def rule_text(place_mm: float, unit: str) -> str:
    """Return a position as it is read on a rule, such as "22.5 mm" or "55/64 in".

    >>> rule_text(22.225, "in"), rule_text(31.75, "in")
    ('7/8 in', '1 1/4 in')
    """
    if unit == "mm":
        return f"{place_mm:.1f} mm"
    inches = Fraction(round(place_mm / float(MM_PER_INCH) * _SIXTY_FOURTHS), _SIXTY_FOURTHS)
    whole, rest = divmod(inches, 1)
    return f"{' '.join(str(part) for part in (whole, rest) if part)} in"


# The steps before the cut.


def length_steps(lengths: Sequence[CutLength], lathe: Lathe) -> list[Step]:
    """Return the steps that set up the lengths before the cut: touch off on the face, set the stop, or scribe lines."""
    if not lengths:
        return []
    furthest = max(lengths, key=lambda length: length.ends_mm)
    if furthest.by == DIAL:
        return [face_touch_off(furthest, lathe)]
    if furthest.by == STOP:
        return [_set_stop(furthest, lathe), try_stop(furthest, lathe)]
    return [_scribe(lengths, lathe)]


def face_touch_off(length: CutLength, lathe: Lathe) -> Step:
    """Return the step that touches off on the face and sets the carriage dial to 0.

    If the dial cannot be set to 0, the user enters its reading instead.
    """
    carriage = lathe.dial(CARRIAGE)
    text = f"Carriage: take up its backlash{backlash_words(carriage)} towards the chuck. Wind on {_to_face(length)}"
    return touch_off_step(carriage, text)


def _to_face(length: CutLength) -> str:
    if length.edge == "right":
        return f"until the tool's right edge is level with {length.face}, by a rule held on the face"
    return f"until the tool's left edge just touches {length.face}"


def _set_stop(length: CutLength, lathe: Lathe) -> Step:
    place_mm = length.stop_at_mm
    stack = best_stack(place_mm, [*lathe.bars_mm, *lathe.shims_mm])
    spacer = f"a spacer of {lathe.length_text(place_mm)}"
    if stack.pieces_mm and abs(stack.left_mm) < _SEEN_MM:
        spacer += f" ({' + '.join(map(lathe.length_text, stack.pieces_mm))})"
    text = (
        f"{STOP_FIRST} Wind the carriage towards the chuck {_to_face(length)}. Put {spacer} between carriage and "
        "stop, then lock the stop. Take the spacer out"
    )
    return Step(action="set", title=SET_STOP, text=text, cautions=(STOP_BY_HAND,))


def try_stop(length: CutLength, lathe: Lathe) -> Step:
    """Return the step in which the turner tries the carriage stop without cutting."""
    text = (
        f"Dry run: {STOP_FIRST.lower()} Keep the tool clear of the work and wind the carriage to the stop. Measure "
        f"from {length.face} to the tool's {length.edge} edge. Wanted: {lathe.length_text(length.stop_at_mm)}. "
        "If the length differs, correct the stop with feelers"
    )
    return Step(action="check", title="Try the stop", text=text)


def _scribe(lengths: Sequence[CutLength], lathe: Lathe) -> Step:
    places = sorted({on_a_rule_mm(place_mm, lathe.unit) for length in lengths for place_mm in length.places_mm})
    lines = ", ".join(rule_text(place_mm, lathe.unit) for place_mm in places)
    edge = lengths[0].edge if lengths[0].tool_width_mm is not None else ""
    what = f"Scribe a line for the tool's {edge} edge" if edge else "Scribe a line around the work"
    text = f"Rule: {STOP_FIRST.lower()} Blue the work. {what} at {lines} from {lengths[0].face}"
    return Step(action="set", title=SCRIBE, text=text)


# Passes.


def with_ends(steps: Sequence[Step], length: CutLength, lathe: Lathe, shift_mm: float = 0.0) -> list[Step]:
    """Return the steps of a cut, with the end position added to each pass.

    The last pass goes to the full length. By a carriage dial, the passes before it stop short of the shoulder. By a
    stop, the first pass says which spacers to put against the stop. `shift_mm`: how much more the dial reads than the
    true length [mm].
    """
    spacers_mm = length.stop_at_mm - length.places_mm[-1] if length.by == STOP else 0.0
    first = next((at for at, step in enumerate(steps) if step.action in {"cut", "spring"}), -1)
    last = max((at for at, step in enumerate(steps) if step.action == "cut"), default=-1)
    ended = [
        _with_end(step, length, lathe, shift_mm, short=step.action == "cut" and at != last)
        if step.action in {"cut", "spring"}
        else step
        for at, step in enumerate(steps)
    ]
    if spacers_mm > 1e-6 and first >= 0:
        caution = f"Put {lathe.length_text(spacers_mm)} of spacers against the stop first. Feeding without them ruins "
        step = ended[first]
        ended[first] = replace(
            step,
            cautions=tuple(dict.fromkeys((f"{caution}the work.", *step.cautions))),
            extra={**step.extra, SPACERS: round(spacers_mm, 6)},
        )
    return ended


def _with_end(step: Step, length: CutLength, lathe: Lathe, shift_mm: float, *, short: bool) -> Step:
    text, extra = step.text.partition(_FURTHER)[0].partition(_PLUNGED)[0], dict(step.extra)
    settings, ends_mm, at = step.settings, length.places_mm, tuple[Setting, ...]()
    if length.by == DIAL:
        carriage = lathe.dial(CARRIAGE)
        at = carriage_settings(length, carriage, shift_mm, short=short)
        if short:
            ends_mm = tuple(_place_mm(setting, carriage) - shift_mm for setting in at)
        settings = (*(setting for setting in settings if setting.dial != CARRIAGE), at[-1])
        extra.pop(SHIFT, None)
        extra |= {SHIFT: round(shift_mm, 6)} if shift_mm else {}
        further = f" until the carriage reads {carriage.setting_text(at[-1])}"
    else:
        further = f" to {mark_words(length, lathe, ends_mm[-1])}"
    if length.tool_width_mm is None:
        text += f"{_FURTHER}{further}"
    else:
        places = list(map(lathe.length_text, ends_mm))
        if length.by == DIAL:
            readings = map(lathe.dial(CARRIAGE).setting_text, at)
            places = [f"{place} (carriage reads {reading})" for place, reading in zip(places, readings, strict=True)]
        *others, last_place = places
        listed = f"{', '.join(others)} and {last_place}" if others else last_place
        text += f"{_PLUNGED}{listed} from {length.face}, {length.edge} edge"
    caution = STOP_BY_HAND if length.by == STOP else FEED_BY_HAND if length.by == DIAL else ""
    new = (caution,) if caution and length.tool_width_mm is None and caution not in step.cautions else ()
    ends = [round(end_mm, 6) for end_mm in ends_mm]
    return replace(step, text=text, settings=settings, extra={**extra, ENDS: ends}, cautions=(*step.cautions, *new))


def end_settings(step: Step, carriage: Dial) -> tuple[Setting, ...]:
    """Return the carriage dial's setting at the end of a pass, or at every plunge of a groove, counted from 0 at the
    face.

    Return () if the step does not set the carriage dial.
    """
    if step.setting(CARRIAGE) is None:
        return ()
    shift_mm = float(step.extra.get(SHIFT, 0.0))
    return tuple(carriage.at_travel(float(end_mm) + shift_mm) for end_mm in step.extra.get(ENDS, ()))


def before_finishing_mm(length: CutLength, lathe: Lathe) -> float:
    """Return the distance from the face at which the passes before the finishing pass end [mm]."""
    if length.by == RULE:
        return on_a_rule_mm(length.ends_mm, lathe.unit)
    if length.by == STOP or length.tool_width_mm is not None:
        return length.ends_mm
    carriage = lathe.dial(CARRIAGE)
    return _place_mm(carriage_settings(length, carriage, 0.0, short=True)[-1], carriage)


def mark_words(length: CutLength, lathe: Lathe, place_mm: float) -> str:
    """Return the end of a feed in words, such as "the line at 22.5 mm" on a rule or "the stop, 22 mm"."""
    if length.by == RULE:
        return f"the line at {rule_text(on_a_rule_mm(place_mm, lathe.unit), lathe.unit)}"
    if length.stop_at_mm - place_mm < 1e-6:
        return f"the stop, {lathe.length_text(place_mm)}"
    return (
        f"{lathe.length_text(length.stop_at_mm - place_mm)} of spacers against the stop, {lathe.length_text(place_mm)}"
    )


def _place_mm(setting: Setting, carriage: Dial) -> float:
    return carriage.mark_mm * float(carriage.marks_at(setting.position))


class PassLengths(NamedTuple):
    """Where one pass ends along the axis, in words and with the readings of the lathe's dials."""

    length: CutLength
    lathe: Lathe
    dials: ZeroedDials
    step: Step

    @property
    def is_full(self) -> bool:
        """True if the pass goes to the full length of the cut, False if it stops short of the shoulder."""
        return abs(self._ends_mm[-1] - self.length.places_mm[-1]) < 1e-6

    @property
    def _ends_mm(self) -> Sequence[float]:
        return [float(end_mm) for end_mm in self.step.extra.get(ENDS, self.length.places_mm)]

    def feed_words(self) -> str:
        """Return in words where the feed ends, such as "Feed to 22 mm: carriage 1 turn 4.0 mm"."""
        place = self.lathe.length_text(self._ends_mm[-1])
        if self.length.by == DIAL:
            setting = self.step.setting(CARRIAGE)
            shown = "" if setting is None else f": carriage {self.dials.short_words(setting)}"
            return f"Feed to {place}{shown}"
        return f"Feed to {mark_words(self.length, self.lathe, self._ends_mm[-1])}"

    def plunges(self) -> Iterator[str]:
        """Yield in words the carriage's position for each plunge of a groove."""
        shift_mm = float(self.step.extra.get(SHIFT, 0.0))
        for place_mm in self.length.places_mm:
            if self.length.by == DIAL:
                setting = self.lathe.dial(CARRIAGE).at_travel(place_mm + shift_mm)
                shown = self.dials.short_words(setting)
                yield f"{shown}, {self.length.edge} edge at {self.lathe.length_text(place_mm)}"
            else:
                yield mark_words(self.length, self.lathe, place_mm)


# Figures and cautions.


def length_figures(length: CutLength | None) -> dict[str, float | str]:
    """Return the plan's figures for the start and end of a cut, by key; {} if the job states no length along
    the axis.
    """
    if length is None:
        return {}
    return {"starts_at_mm": length.starts_mm, "ends_at_mm": length.ends_mm, "lengths_by": length.by}


def length_cautions(length: CutLength, lathe: Lathe, what: str = "the cut ends") -> Iterator[str]:
    """Yield a caution if no mark of the dial or rule is exactly at the end of the cut.

    `what`: how the caution names this position, such as "the taper starts".
    """
    off_mm, of_what = 0.0, "the carriage dial"
    if length.by == DIAL:
        carriage = lathe.dial(CARRIAGE)
        off_mm = _place_mm(carriage.at_travel(length.places_mm[-1]), carriage) - length.places_mm[-1]
    elif length.by == RULE:
        off_mm, of_what = on_a_rule_mm(length.places_mm[-1], lathe.unit) - length.places_mm[-1], "a rule"
    if abs(off_mm) >= _SEEN_MM:
        side = "too far" if off_mm > 0 else "too short"
        yield f"By the nearest mark of {of_what} {what} {lathe.length_text(abs(off_mm))} {side}."


def stop_words(length: CutLength | None, lathe: Lathe) -> str:
    """Return the position of the carriage stop in words, such as "22 mm from the end face"; "" for a cut without a
    stop.
    """
    if length is None or length.by != STOP:
        return ""
    return f"{lathe.length_text(length.stop_at_mm)} from {length.face}"


def length_words(length: CutLength, lathe: Lathe) -> str:
    """Return the length of a cut in words, such as "0 to 22 mm from the end face, by carriage dial"."""
    text = lathe.length_text
    return f"{text(length.starts_mm)} to {text(length.ends_mm)} from {length.face}, by {length.by}"
