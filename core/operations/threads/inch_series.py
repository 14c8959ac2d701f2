"""The standard inch series: Unified, Whitworth (BSW, BSF) and Acme, as their tables list them."""

from fractions import Fraction
from functools import cache
from typing import NamedTuple

from core.data import read_table
from core.operations.threads.inch_spelling import InchWords, inch_text
from core.values.quantities import read_number


class InchThread(NamedTuple):
    """One thread of a series: size as printed, its diameter [in], threads to the inch."""

    size_text: str
    size_in: Fraction
    tpi: Fraction
    series: str

    @property
    def name(self) -> str:
        """Its designation without a class, such as "1/4-20 UNC"."""
        return f"{self.size_text}-{inch_text(self.tpi)} {self.series}"

    def has_size_of(self, words: InchWords) -> bool:
        """Tell whether its size may be the one written: a bare "10" may be #10, a bare "1" an inch or #1."""
        if not words.is_number and self.size_in == words.size:
            return True
        return (words.is_number or words.is_bare) and self.size_text == f"#{inch_text(words.size)}"


@cache
def inch_threads() -> tuple[InchThread, ...]:
    """Return all threads of the inch series, each series by size."""
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
    """Return the threads of these series that size and pitch, as far as written, may mean."""
    return [
        thread
        for thread in inch_threads()
        if thread.series in series and thread.has_size_of(words) and words.tpi in (None, thread.tpi)
    ]


def number_size_in(number: int) -> Fraction:
    """Return the diameter of a screw number: 0.060 in and 0.013 in for each number [in] (ASME B1.1).

    >>> float(number_size_in(10))
    0.19
    """
    return Fraction(60 + 13 * number, 1000)


def _thread(size: str, tpi: str, series: str) -> InchThread:
    size_in = number_size_in(int(size[1:])) if size.startswith("#") else read_number(size)
    return InchThread(size_text=size, size_in=size_in, tpi=Fraction(tpi), series=series)
