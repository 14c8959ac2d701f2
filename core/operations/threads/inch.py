"""Reads the parts of inch designations ("1 1/4-8 UN-2A", "Acme 3/4-6 2G"), and lists the standard inch series."""

import re
from fractions import Fraction
from functools import cache
from typing import NamedTuple

from core.data import read_table
from core.operations.threads.spelling import MOST_STARTS, Ending, number_in, read_ending, refusal
from core.values.quantities import number_text, read_number

LARGEST_IN = Fraction(12)
MOST_TPI, LEAST_TPI = Fraction(120), Fraction(1)
_SERIES = r"(?:unc|unf|unef|uns|un(?![rj])|bsw|bsf|whitworth|whit|acme)"
_DECIMAL = r"(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
_NUMBER = rf"(?:[0-9]+[ -][0-9]+/[0-9]+|[0-9]+/[0-9]+|{_DECIMAL})"
_INCH_THREAD = re.compile(
    rf"(?:(?P<before>{_SERIES})[ -]*)?"
    rf"(?P<mark>#|no\.? ?)? ?(?P<size>{_NUMBER})(?: ?(?:\"|in(?:ch)?\b))?"
    rf"(?: ?- ?(?:(?P<pitch>{_DECIMAL}) ?p ?- ?(?P<lead>{_DECIMAL}) ?l|(?P<tpi>{_NUMBER})))?"
    rf"(?:(?:[ -]+(?P<constant>[0-9]+))?[ -]*(?P<after>{_SERIES}))?"
    r"(?P<ending>.*)",
    re.IGNORECASE,
)


class InchWords(NamedTuple):
    """The parts of an inch designation, as written by the user."""

    text: str
    series: str
    """The series in capitals; "" if the designation has none."""
    size: Fraction
    is_number: bool
    """True if the size is a screw number ("#10") instead of inches."""
    is_bare: bool
    """True for a whole number alone: "10" may mean #10, but "10.0" does not."""
    tpi: Fraction | None
    starts: int
    constant: str
    """The 8 of "8-UN"; "" if the designation has none."""
    ending: Ending


def read_inch_words(text: str) -> InchWords | None:
    """Return the parts of an inch designation; None if the text is not an inch designation.

    Raise ThreadError for a number that is not possible in a designation, such as a pitch of 0 in.
    """
    match = _INCH_THREAD.fullmatch(text)
    if match is None or (match["before"] and match["after"]):
        return None
    tpi, starts = _read_pitch(match, text)
    size = number_in(match["size"], text)
    series = (match["before"] or match["after"] or "").upper().replace("WHITWORTH", "WHIT")
    if series and size > LARGEST_IN and not match["mark"]:
        raise refusal(text, f"has a diameter of {inch_text(size)} in", f"Enter at most {LARGEST_IN} in")
    return InchWords(
        text=text,
        series=series,
        size=size,
        is_number=match["mark"] is not None,
        is_bare=match["mark"] is None and match["size"].isdigit(),
        tpi=tpi,
        starts=starts,
        constant=match["constant"] or "",
        ending=read_ending(match["ending"], text),
    )


def refuse_screw_number(words: InchWords) -> None:
    """Raise ThreadError if a designation of a series other than Unified has a screw number such as "#10"."""
    if words.is_number:
        problem = f"has a screw number (#{inch_text(words.size)}), which {words.series} does not use"
        raise refusal(words.text, problem, "Enter a size in inches, such as 1/2")


def _read_pitch(match: re.Match[str], text: str) -> tuple[Fraction | None, int]:
    """Return the threads per inch (None if not written) and the number of starts, from "20" or "0.1P-0.2L"."""
    tpi, starts = None, 1
    # "1/4 20 UNC" and "1 1/2 8-UN": without a pitch before it, the 20 or 8 is the pitch.
    if written := match["tpi"] or (match["constant"] if not match["pitch"] else None):
        tpi = number_in(written, text)
    elif match["pitch"]:
        pitch = number_in(match["pitch"], text)
        if not pitch:
            raise refusal(text, "has a pitch of 0 in", "Enter a pitch above 0")
        tpi = _tpi_of(pitch, _decimals(match["pitch"]))
        starts = _starts_of(number_in(match["lead"], text), _decimals(match["lead"]), tpi, text)
    if tpi is not None and not LEAST_TPI <= tpi <= MOST_TPI:
        raise refusal(
            text, f"has {number_text(tpi, 4)} threads to the inch", f"Enter {LEAST_TPI} to {MOST_TPI} threads per inch"
        )
    return tpi, starts


def _tpi_of(pitch: Fraction, decimals: int) -> Fraction:
    """Return the exact threads per inch for a pitch in inches that was rounded to `decimals` places.

    For example 6 for 0.1667 in, and 2 1/2 for 0.4 in.
    """
    halves = Fraction(round(2 / pitch), 2)
    return halves if halves and round(1 / halves, decimals) == pitch else 1 / pitch


def _starts_of(lead: Fraction, decimals: int, tpi: Fraction, text: str) -> int:
    starts = round(lead * tpi)
    if not 1 <= starts <= MOST_STARTS or round(starts / tpi, decimals) != lead:
        problem = f"has a lead of {number_text(lead, 4)} in and a pitch of {number_text(1 / tpi, 4)} in"
        raise refusal(text, problem, f"Enter a lead of 1 to {MOST_STARTS} whole pitches")
    return starts


def _decimals(number: str) -> int:
    return len(number.replace(",", ".").partition(".")[2])


def inch_text(size: Fraction) -> str:
    """Return a size [in] as text for a designation: as one of the fractions on an inch rule, or else as a decimal
    number.

    >>> inch_text(Fraction(5, 4)), inch_text(Fraction(19, 100)), inch_text(Fraction(9, 2))
    ('1 1/4', '0.19', '4 1/2')
    """
    whole, part = divmod(size, 1)
    if not part:
        return str(whole)
    if 64 % part.denominator == 0 or 10**6 % part.denominator:
        return f"{whole} {part}" if whole else str(part)
    return number_text(size, 6)


def size_and_pitch_text(size_text: str, tpi: Fraction, starts: int) -> str:
    """Return the size and the threads per inch as text for a designation, such as "1/2-13".

    For more than one start, the pitch and the lead replace the threads per inch: "1/2-0.1P-0.2L" (ASME B1.5).

    >>> size_and_pitch_text("3/4", Fraction(6), 2)
    '3/4-0.1667P-0.3333L'
    """
    if starts == 1:
        return f"{size_text}-{inch_text(tpi)}"
    return f"{size_text}-{number_text(1 / tpi, 4)}P-{number_text(starts / tpi, 4)}L"


class InchThread(NamedTuple):
    """One thread of an inch series: its size as text, its major diameter [in] and its threads per inch."""

    size_text: str
    size_in: Fraction
    tpi: Fraction
    series: str

    @property
    def name(self) -> str:
        """The designation without its class, such as "1/4-20 UNC"."""
        return f"{self.size_text}-{inch_text(self.tpi)} {self.series}"

    def has_size_of(self, words: InchWords) -> bool:
        """Return True if the size written in a designation can mean the size of this thread.

        For example, "10" may mean screw number 10, and "1" may mean one inch or screw number 1.
        """
        if not words.is_number and self.size_in == words.size:
            return True
        return (words.is_number or words.is_bare) and self.size_text == f"#{inch_text(words.size)}"


@cache
def inch_threads() -> tuple[InchThread, ...]:
    """Return all threads of the standard inch series, sorted by series and then by size."""
    unified = [
        _thread(row["size"], tpi, series.upper())
        for row in read_table("unified_series")
        for series in ("unc", "unf", "unef", "un")
        for tpi in row[series].split()
    ]
    whitworth = [_thread(row["size"], row["tpi"], row["series"]) for row in read_table("whitworth_series")]
    acme = [_thread(row["size"], row["tpi"], "Acme") for row in read_table("acme_series")]
    return *unified, *whitworth, *acme


def threads_meant(words: InchWords, series: tuple[str, ...]) -> list[InchThread]:
    """Return those threads of the given series that have the size and pitch of a designation."""
    return [
        thread
        for thread in inch_threads()
        if thread.series in series and thread.has_size_of(words) and words.tpi in (None, thread.tpi)
    ]


def number_size_in(number: int) -> Fraction:
    """Return the major diameter of a numbered screw [in]: 0.060 in plus 0.013 in times the number (ASME B1.1).

    >>> float(number_size_in(10))
    0.19
    """
    return Fraction(60 + 13 * number, 1000)


def _thread(size: str, tpi: str, series: str) -> InchThread:
    size_in = number_size_in(int(size[1:])) if size.startswith("#") else read_number(size)
    return InchThread(size_text=size, size_in=size_in, tpi=Fraction(tpi), series=series)
