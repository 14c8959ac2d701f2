"""Facing and grooving: reads both operations, and works out the direction in which the slide cuts.

A face is cut towards the chuck. A groove on the outside is cut towards the axis, and a groove in a bore away from the
axis. A slide along the bed cuts grooves towards the chuck. Two dial readings do not show the direction, because the
numbers of a dial may rise or fall as the tool moves in.
"""

from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple

from core.lathe.lathe import ALONG_THE_BED, Lathe, dial_words
from core.operations.fine_infeed import KEY, read_fine_infeed
from core.operations.lengths import CutLength, read_cut_length, stop_words
from core.operations.operation import Figures, Needs
from core.operations.size_cut import TO_CHUCK, MeasuredAs, SizeCut, face_dials, read_pass_depths
from core.operations.size_cut_form import FACE_FORM, GROOVE_FORM
from core.operations.turn import cut_in_passes, drawn_as
from core.plan import Step
from core.safety import RELIEF
from core.values.fields import Table
from core.values.plain_text import quoted
from core.values.quantities import number_text
from core.values.wanted_size import WantedSize

_TO_AXIS, _FROM_AXIS = "towards the axis", "away from the axis"


class _Amount(NamedTuple):
    """The metal to remove: the start and the end of the cut [mm], and the quantity that both of them measure."""

    start_mm: float
    end_mm: float
    measured: MeasuredAs
    wanted: WantedSize | None = None
    """The wanted size with its limits; None if it has no limits."""
    key: str = ""
    """The key of the table that states the end."""


class _AmountForm(NamedTuple):
    """One way to state the amount to remove: the keys that the table must have, and the function that reads their
    values.
    """

    keys: tuple[str, ...]
    read: Callable[[Table, Lathe], _Amount | None]


def read_face(table: Table, lathe: Lathe) -> SizeCut | None:
    """Return the cut of a `face` operation; None if an entry is wrong. Errors are added to `table.problems`."""
    before = len(table.problems)
    dial = _dial(table, lathe, face_dials(lathe))
    amount = _amount(table, lathe, (_REMOVE, _LENGTHS, _PLACES))
    fine = read_fine_infeed(table, lathe, "face")
    if fine and dial not in {None, "compound"}:
        table.problem(KEY, f"A fine infeed cuts with the compound. Choose the compound as the slide, or delete {KEY}.")
    if fine and amount and amount.measured == "place":
        table.problem(
            KEY,
            "With a fine infeed, positions of the compound are not lengths of the work. Enter the amount to take "
            f"off, or delete {KEY}.",
        )
    sizes = read_pass_depths(table, lathe)
    if len(table.problems) > before or dial is None or amount is None or sizes is None:
        return None
    return SizeCut(
        dial,
        amount.start_mm,
        amount.end_mm,
        *sizes,
        measured=amount.measured,
        outwards=False,
        direction=TO_CHUCK,
        pass_movements=fine.movements(lathe)
        if fine
        else (
            f"{dial_words(dial).capitalize()} {TO_CHUCK} to its reading"
            + (", lock it" if dial in ALONG_THE_BED else ""),
            "Cut across the face",
            "Withdraw the tool, back to the start",
            "Then the key",
        ),
        set_up=(fine.swing(lathe) if fine else _set_along_the_bed(dial, lathe),),
        fine=fine,
        wanted=amount.wanted,
        size_key=amount.key,
    )


def read_groove(table: Table, lathe: Lathe) -> SizeCut | None:
    """Return the cut of a `groove` operation; None if an entry is wrong. Errors are added to `table.problems`."""
    before = len(table.problems)
    dial = _dial(table, lathe, list(lathe.dials))
    side = table.word("side", ("outside", "inside"))
    amount = _amount(table, lathe, (_DIAMETERS, _DEPTH, _PLACES))
    sizes = read_pass_depths(table, lathe)
    if dial is not None and amount is not None:
        _check_side(table, lathe, dial, side, amount)
    grows = amount is not None and amount.measured == "diameter" and amount.end_mm > amount.start_mm
    along = read_cut_length(table, lathe, groove=True, inside=side == "inside" or grows)
    if along is not None and dial in ALONG_THE_BED:
        words = f"The {dial_words(dial)} itself moves along the bed"
        table.problem("ends_at", f'{words}. Delete "ends_at", or choose another slide.')
    if len(table.problems) > before or dial is None or amount is None or sizes is None:
        return None
    inside = dial not in ALONG_THE_BED and (side == "inside" or grows)
    direction = TO_CHUCK if dial in ALONG_THE_BED else _FROM_AXIS if inside else _TO_AXIS
    return SizeCut(
        dial,
        amount.start_mm,
        amount.end_mm,
        *sizes,
        measured=amount.measured,
        outwards=inside,
        direction=direction,
        pass_movements=(
            f"Feed the {dial_words(dial)} {direction} to its reading",
            f"Withdraw the tool{' inwards' if inside else ''}, clear of the work",
            "Then the key",
        ),
        set_up=(_set_for_a_groove(dial, lathe, along),),
        wanted=amount.wanted,
        size_key=amount.key,
        along=along,
    )


def read_first_cut(table: Table, lathe: Lathe) -> SizeCut | None:
    """Return the cut of a `cut` operation; None if an entry is wrong.

    Only runs started with the first version of the program have this kind. The slide goes out if `to` is less than
    `from`, so that such a run continues in its original direction.
    """
    dial = table.text("dial", required=True, longest=40)
    amount, sizes = _places(table, lathe), read_pass_depths(table, lathe)
    if dial is None or amount is None or sizes is None:
        return None
    start, end = amount.start_mm, amount.end_mm
    return SizeCut(dial, start, end, *sizes, measured="place", outwards=end < start)


# The amount to remove.


def _amount(table: Table, lathe: Lathe, forms: Sequence[_AmountForm]) -> _Amount | None:
    """Return the amount to remove; None if an entry is wrong.

    `forms`: the ways to state the amount. The table must have the keys of exactly one of them.
    """
    entered = [key for form in forms for key in form.keys if table.has(key)]
    chosen = [form for form in forms if any(key in entered for key in form.keys)]
    accepted = ", or ".join(" with ".join(map(quoted, form.keys)) for form in forms)
    if not chosen:
        table.problem(forms[0].keys[0], f"Missing. Enter {accepted}.")
        return None
    if len(chosen) > 1:
        together = " and ".join(map(quoted, entered))
        table.problem(chosen[1].keys[0], f"{together} cannot be used together. Enter only {accepted}.")
        return None
    amount = chosen[0].read(table, lathe)
    return amount and amount._replace(key=chosen[0].keys[-1])


def _remove(table: Table, lathe: Lathe) -> _Amount | None:
    remove = table.length("remove", above=0)
    return None if remove is None else _Amount(0.0, remove, "left")


def _lengths(table: Table, lathe: Lathe) -> _Amount | None:
    now = table.length("length_now", required=True, above=0)
    size = table.wanted_size("length", required=True, above=0)
    if now is None or size is None:
        return None
    wanted = size.middle_mm
    if wanted >= now:
        words = f"{lathe.length_text(wanted)} is not shorter than the work is now"
        table.problem("length", f"{words}. Enter a length below {lathe.length_text(now)}.")
        return None
    return _Amount(now, wanted, "length", size if size.has_limits else None)


def _diameters(table: Table, lathe: Lathe) -> _Amount | None:
    now = table.length("diameter_now", required=True, above=0)
    size = table.wanted_size("diameter", required=True, least=0)
    if now is None or size is None:
        return None
    wanted = size.middle_mm
    if wanted == now:
        table.problem(
            "diameter", f"The work already has a diameter of {lathe.length_text(wanted)}. Enter another diameter."
        )
        return None
    return _Amount(now, wanted, "diameter", size if size.has_limits else None)


def _depth(table: Table, lathe: Lathe) -> _Amount | None:
    depth = table.wanted_size("depth", above=0)
    return None if depth is None else _Amount(0.0, depth.middle_mm, "depth", depth if depth.has_limits else None)


def _places(table: Table, lathe: Lathe) -> _Amount | None:
    start = table.length("from", required=True)
    end = table.length("to", required=True)
    if start is None or end is None:
        return None
    if start == end:
        table.problem("to", f'{lathe.length_text(end)} is the same position as "from". Enter another position.')
        return None
    return _Amount(start, end, "place")


_REMOVE = _AmountForm(("remove",), _remove)
_LENGTHS = _AmountForm(("length_now", "length"), _lengths)
_DIAMETERS = _AmountForm(("diameter_now", "diameter"), _diameters)
_DEPTH = _AmountForm(("depth",), _depth)
_PLACES = _AmountForm(("from", "to"), _places)


def _check_side(table: Table, lathe: Lathe, dial: str, side: str | None, amount: _Amount) -> None:
    if dial in ALONG_THE_BED:
        if amount.measured == "diameter":
            words = f"The {dial_words(dial)} moves along the bed and cannot cut to a diameter"
            table.problem("diameter", f"{words}. Enter a depth, or choose another slide.")
        return
    if amount.measured == "diameter" and side is not None and (amount.end_mm > amount.start_mm) != (side == "inside"):
        other = "larger" if side == "inside" else "smaller"
        words = f"{lathe.length_text(amount.end_mm)} is not {other} than {lathe.length_text(amount.start_mm)}"
        table.problem("diameter", f"{words}. On the {side} enter a {other} diameter.")


# The slide, and the steps that prepare it.


def _dial(table: Table, lathe: Lathe, fitting: Sequence[str]) -> str | None:
    """Return the dial that the table names; None if the lathe lacks this dial or its slide cannot make the cut.

    `fitting`: the names of the dials whose slides can make the cut.
    """
    dial = table.text("dial", required=True, longest=40)
    if dial is None:
        return None
    if dial not in lathe.dials:
        table.problem("dial", f'This lathe ({lathe.name}) has no dial "{dial}". {_choose(fitting)}')
    elif dial not in fitting:
        table.problem("dial", f"The {dial_words(dial)} does not move along the bed. {_choose(fitting)}")
    else:
        return dial
    return None


def _choose(names: Sequence[str]) -> str:
    return f"Choose {' or '.join(names)}." if names else "Add a dial to the lathe file, such as [dial.carriage]."


def _set_along_the_bed(dial: str, lathe: Lathe) -> Step:
    if dial == "compound":
        text = (
            "Swing the compound along the bed, parallel to the spindle axis, with its handle towards the tailstock"
            f"{_scale_words(lathe, 90.0)}. Lock the swivel and the carriage"
        )
    elif dial in ALONG_THE_BED:
        slide = dial_words(dial)
        text = (
            f"Open the half nuts and switch the feed off. Set the depth on the {slide} by hand. Lock the {slide} for "
            "every cut"
        )
    else:
        text = f"Lock every slide but the cross-slide. Set the depth on the {dial_words(dial)}"
    title = "Swing the compound" if dial == "compound" else "Lock the slides"
    return Step(action="set", title=title, text=text)


def _set_for_a_groove(dial: str, lathe: Lathe, along: CutLength | None) -> Step:
    place = "Set the tool square to the work, at the position of the groove"
    carriage = "the carriage"
    if along is not None:
        # The carriage first goes to the face. Each pass locks it.
        place, carriage = "Set the tool square to the work, but clear of the work", ""
    if dial == "compound":
        locked = "every other slide" if along is None else "the cross-slide"
        text = f"Swing the compound square to the spindle axis{_scale_words(lathe, 0.0)}. {place}. Lock {locked}"
    elif dial in ALONG_THE_BED:
        text = f"{place}. Lock the cross-slide. Open the half nuts and switch the feed off"
    else:
        compound = "the compound" if "compound" in lathe.dials and dial != "compound" else ""
        locked = " and ".join(slide for slide in (carriage, compound) if slide)
        text = f"{place}. Lock {locked}" if locked else place
    title = "Swing the compound" if dial == "compound" else "Set the tool square"
    return Step(action="set", title=title, text=text, cautions=(RELIEF,))


def _scale_words(lathe: Lathe, from_square_deg: float) -> str:
    if lathe.compound is None:
        return ". If the compound already points this way, leave it as it is"
    reading = f"{number_text(lathe.compound.reading_deg(from_square_deg), 2)}°"
    if not lathe.compound.shows(from_square_deg):
        return f". Its own scale ends before {reading}. Set the compound with an indicator that runs along a true bar"
    return f". Its own scale then reads {reading}. If the scale already reads {reading}, leave the compound as it is"


def _face_needs(cutting: SizeCut, lathe: Lathe, figures: Figures) -> Needs:
    compound = "along the bed, parallel to the spindle axis" if cutting.dial == "compound" else ""
    if cutting.fine:
        compound = cutting.fine.needed_words()
    return Needs(place="spindle", tool="facing tool", compound=compound, feeds=True)


def _groove_needs(cutting: SizeCut, lathe: Lathe, figures: Figures) -> Needs:
    where = " for a bore" if cutting.in_a_bore else ""
    compound = "square to the spindle axis" if cutting.dial == "compound" else ""
    stop = stop_words(cutting.along, lathe)
    return Needs(place="spindle", tool=f"grooving tool{where}", compound=compound, stop=stop, feeds=True)


FACE = cut_in_passes(read_face, _face_needs, FACE_FORM, partial(drawn_as, "face"))
GROOVE = cut_in_passes(read_groove, _groove_needs, GROOVE_FORM, partial(drawn_as, "groove"))
FIRST_CUT = cut_in_passes(read_first_cut, _groove_needs)
