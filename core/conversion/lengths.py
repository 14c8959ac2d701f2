"""A length in every unit that a turner needs, with the nearest 1/64 in and the nearest drills; also a pitch."""

from fractions import Fraction
from math import floor

from core.conversion.answers import Conversion, NearDrill
from core.conversion.dial_readings import reading_rows, readings
from core.lathe.lathe import Lathe
from core.operations.threads.drills import drill_series, nearest_drills
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import LONGEST_LENGTH_MM, MM_PER_INCH, SHORTEST_LENGTH_MM, number_text
from core.values.words import Row, difference_text, field_text, figure_text, mixed_text, unit_row

_FRACTION_PARTS = 64
_PITCHES_MM = (Fraction(1, 20), Fraction(100))
_THREADS_IN_A_ROW = 4


def length_answer(asked: str, length_mm: Fraction, lathe: Lathe | None) -> Conversion:
    """Return the answer for a length [mm] in all units and on all dials.

    `asked`: the question, which the answer repeats. `lathe`: None for an answer without dial readings.

    Raises QuantityError if the length is not 0 and is below 1 nm or above 100 m.
    """
    check_length(asked, length_mm)
    inches = length_mm / MM_PER_INCH
    fraction = nearest_fraction(inches)
    error_mm = fraction * MM_PER_INCH - length_mm
    dials = readings(lathe, length_mm)
    size_mm = float(length_mm)
    near = nearest_drills(size_mm) if length_mm > 0 else ()
    drills = tuple(NearDrill(drill=drill, difference_mm=drill.mm - size_mm) for drill in near)
    figures = {
        "mm": float(length_mm),
        "um": float(length_mm * 1000),
        "in": float(inches),
        "thou": float(inches * 1000),
        "fraction": mixed_text(fraction),
        "fraction_error_mm": float(error_mm),
    }
    as_pitch: list[Row] = []
    if _PITCHES_MM[0] <= length_mm <= _PITCHES_MM[1]:
        tpi = 1 / inches
        figures["tpi"] = float(tpi)
        words = f'{figure_text(tpi, "tpi")}; add "pitch" for standard threads'
        as_pitch = [Row("as a pitch", words, field_text(tpi, "tpi"))]
    rows = [
        *_size_rows(length_mm),
        Row("nearest 1/64", _fraction_words(inches, fraction, error_mm), f"{mixed_text(fraction)} in"),
        *as_pitch,
        *reading_rows(dials),
        *_drill_rows(drills, float(length_mm)),
    ]
    return Conversion(
        asked=asked,
        kind="length",
        figures=figures,
        rows=tuple(rows),
        dials=dials,
        drills=drills,
        field_text=field_text(length_mm, "mm"),
    )


def pitch_answer(asked: str, pitch_mm: Fraction) -> Conversion:
    """Return the answer for a pitch [mm] in all units, with the standard threads that have this pitch.

    `asked`: the question, which the answer repeats.
    """
    if pitch_mm <= 0:
        raise QuantityError(f'{quoted(asked)} is not above 0. Enter "3.5 mm pitch", for example.')
    check_length(asked, pitch_mm)
    # Loading all thread tables takes time, and only a pitch needs them.
    from core.operations.threads.designation import standard_threads_with_pitch

    tpi = MM_PER_INCH / pitch_mm
    threads = tuple(standard_threads_with_pitch(float(pitch_mm)))
    rows = (
        unit_row("pitch", pitch_mm, "mm"),
        unit_row("pitch", 1 / tpi, "in"),
        unit_row("threads to the inch", tpi, "tpi"),
        *_thread_rows(threads),
    )
    exact_tpi = tpi if Fraction(number_text(tpi, 6)) == tpi else None
    return Conversion(
        asked=asked,
        kind="pitch",
        figures={"pitch_mm": float(pitch_mm), "tpi": float(tpi)},
        rows=rows,
        threads=threads,
        field_text=field_text(exact_tpi, "tpi") if exact_tpi else field_text(pitch_mm, "mm"),
    )


def _size_rows(length_mm: Fraction) -> list[Row]:
    """Return rows with a length in mm, um, inches and thou, and in whole thou and tenths of a thou."""
    thou = length_mm / MM_PER_INCH * 1000
    tenths_in_all = round(abs(thou) * 100)
    whole, hundredths = divmod(tenths_in_all, 100)
    sign = "-" if thou < 0 and tenths_in_all else ""
    tenths = f"{hundredths / 10:g} tenth{'' if hundredths == 10 else 's'}"
    return [
        unit_row("millimetres", length_mm, "mm"),
        Row("micrometres", figure_text(length_mm * 1000, "µm"), field_text(length_mm * 1000, "um")),
        unit_row("inches", thou / 1000, "in"),
        Row("thou", figure_text(thou, "thou"), field_text(thou, "thou")),
        Row("thou and tenths", f"{sign}{whole} thou and {tenths} of a thou"),
    ]


def check_length(asked: str, length_mm: Fraction) -> None:
    """Raise QuantityError if a length [mm] other than 0 is below 1 nm or above 100 m. The sign does not matter.

    `asked`: the question, which the message quotes.
    """
    if length_mm and not SHORTEST_LENGTH_MM <= abs(length_mm) <= LONGEST_LENGTH_MM:
        raise QuantityError(f"{quoted(asked)} is out of range. Enter a length from 1 nm to 100 m.")


def nearest_fraction(inches: Fraction) -> Fraction:
    """Return the multiple of 1/64 in that is nearest to a length [in], as a reduced fraction.

    If two are equally near, the one further from zero is taken.

    >>> nearest_fraction(Fraction("1.9999")), nearest_fraction(Fraction("1.5156"))
    (Fraction(2, 1), Fraction(97, 64))
    """
    nearest = Fraction(floor(abs(inches) * _FRACTION_PARTS + Fraction(1, 2)), _FRACTION_PARTS)
    return -nearest if inches < 0 else nearest


def _is_half_way(inches: Fraction) -> bool:
    return (inches * _FRACTION_PARTS * 2).denominator == 1 and (inches * _FRACTION_PARTS).denominator != 1


def _fraction_words(inches: Fraction, fraction: Fraction, error_mm: Fraction) -> str:
    words = f"{mixed_text(fraction)} in"
    if error_mm == 0:
        return f"{words}, exactly"
    thou = figure_text(abs(error_mm) / MM_PER_INCH * 1000, "thou", 3)
    sense = "more" if error_mm > 0 else "less"
    half_way = "; half-way, this is the larger" if _is_half_way(inches) else ""
    return f"{words}, {thou} ({figure_text(abs(error_mm), 'mm', 3)}) {sense} than asked{half_way}"


def _drill_rows(drills: tuple[NearDrill, ...], length_mm: float) -> list[Row]:
    """Return one row for each drill series whose range of sizes includes a length [mm].

    `drills`: the drills nearest to the length, which the rows list.
    """
    rows = []
    for series, all_drills in drill_series().items():
        if not all_drills[0].mm <= length_mm <= all_drills[-1].mm:
            continue
        near = [each for each in drills if each.drill.series == series]
        words = [f"{each.drill.text} ({difference_text(each.difference_mm, 'mm')})" for each in near]
        nearest = min(near, key=lambda each: abs(each.difference_mm))
        rows.append(Row(f"drills, {series}", ", ".join(words), _drill_text(nearest)))
    return rows


def _drill_text(near: NearDrill) -> str:
    """Return a drill's size as text that the program's entry fields accept."""
    if near.drill.series in {"metric", "fractional"}:
        return near.drill.text
    return f"{number_text(near.drill.mm / float(MM_PER_INCH), 4)} in"


def _thread_rows(threads: tuple[str, ...]) -> list[Row]:
    """Return rows that name standard threads, a few in each row."""
    if not threads:
        return [Row("standard threads", "none has this pitch")]
    starts = range(0, len(threads), _THREADS_IN_A_ROW)
    return [
        Row("standard threads" if start == 0 else "", ", ".join(threads[start : start + _THREADS_IN_A_ROW]))
        for start in starts
    ]
