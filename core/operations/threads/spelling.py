"""Cleans the text of a designation, reads its size, pitch and ending, and words the errors for wrong designations."""

import re
from fractions import Fraction
from typing import NamedTuple

from core.values.errors import QuantityError, ThreadError
from core.values.plain_text import quoted
from core.values.quantities import number_text, read_number

LONGEST_DESIGNATION = 60
MOST_STARTS = 12
MEMORY_NOTE = (
    "The program's figures of {standard} are from memory. Check them in the standard before work that must pass a "
    "gauge."
)

_LIKE_ASCII = str.maketrans({"×": "x", "‐": "-", "‑": "-", "–": "-", "−": "-", "\u00a0": " ", "\u202f": " "})


class Ending(NamedTuple):
    """The tolerance class and the hand, as written at the end of a designation."""

    words: tuple[str, ...]
    left_hand: bool

    @property
    def class_text(self) -> str:
        """The tolerance class without spaces, although the user may have written "4g 6g"; "" if there is no class."""
        return "".join(self.words)

    @property
    def quoted_class(self) -> str:
        """The tolerance class in quotation marks, as the user wrote it."""
        return quoted(" ".join(self.words))


def normalized(text: str) -> str:
    """Return a designation with single plain spaces. The letter x replaces "×", and a hyphen replaces any dash or minus
    sign.

    Raise ThreadError if the text is too long or contains control characters.
    """
    if len(text) > LONGEST_DESIGNATION:
        raise refusal(text, f"has {len(text)} characters", f"Enter at most {LONGEST_DESIGNATION}")
    prepared = text.translate(_LIKE_ASCII).strip(" ")
    if not prepared.isprintable():
        raise refusal(text, "has a control character", "Enter only letters, figures and signs")
    return re.sub(" +", " ", prepared)


def refusal(text: str, problem: str, remedy: str) -> ThreadError:
    """Return the error for a wrong designation. Its message says what is wrong, then what to enter.

    >>> refusal("M10x9", "has a pitch of 9 mm", "Enter a pitch below 8 mm").message
    '"M10x9" has a pitch of 9 mm. Enter a pitch below 8 mm.'
    """
    return ThreadError(f"{quoted(text, LONGEST_DESIGNATION)} {problem}. {remedy}.", field="thread")


def number_in(part: str, text: str) -> Fraction:
    """Return the number that `part` of a designation states. Raise ThreadError if `part` is not a number.

    text: the whole designation, for the error message.
    """
    try:
        return read_number(part)
    except QuantityError as error:
        raise refusal(
            text, f"has {quoted(part)} instead of a number", "Enter a number such as 10, 1/4 or 2.5"
        ) from error


def read_ending(ending: str, text: str) -> Ending:
    """Return the tolerance class and the hand ("LH") at the end of a designation, in either order.

    text: the whole designation, for the error message. Raise ThreadError for a hand written twice.
    """
    words = [word for word in re.split(r"(LH)|[ -]+", ending, flags=re.IGNORECASE) if word]
    left_hand_words = [word for word in words if word.upper() == "LH"]
    if len(left_hand_words) > 1:
        raise refusal(text, 'has "LH" more than once', "Enter it once")
    return Ending(words=tuple(word for word in words if word.upper() != "LH"), left_hand=bool(left_hand_words))


def is_internal(text: str, side: str | None, class_internal: bool | None, classes: str) -> bool:
    """Return True if a thread is internal. The class decides, or else the side; if neither is given, the thread is
    external.

    text: the whole designation, for the error message. side: "outside", "inside" or None. class_internal: True for an
    internal class, False for an external class, None if no class is written or the class suits both sides. classes: the
    classes of the requested side, for the message.
    Raise ThreadError if class and side contradict each other.
    """
    if side not in (None, "outside", "inside"):
        raise ThreadError(f'{quoted(side)} is not a side of the work. Enter "outside" or "inside".', field="side")
    wanted = None if side is None else side == "inside"
    if class_internal is not None and wanted is not None and class_internal != wanted:
        of_class = "inside" if class_internal else "outside"
        raise refusal(text, f"has a class for an {of_class} thread, but the side is {side}", f"Enter {classes}")
    return bool(wanted if class_internal is None else class_internal)


def starts_of(lead: Fraction, pitch: Fraction, text: str) -> int:
    """Return the number of starts, which is the lead divided by the pitch.

    Raise ThreadError if this is not a whole number. `text`: the whole designation, for the error message.
    """
    starts = lead / pitch if pitch else Fraction(0)
    if starts.denominator != 1 or not 1 <= starts <= MOST_STARTS:
        problem = f"has a lead of {number_text(lead, 4)} and a pitch of {number_text(pitch, 4)}"
        raise refusal(text, problem, f"Enter a lead of 1 to {MOST_STARTS} whole pitches")
    return int(starts)


def listed(words: list[str], last: str = "or") -> str:
    """Return the words joined for a sentence, with commas and with `last` before the last word.

    >>> listed(["e", "f", "g"])
    'e, f or g'
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}"


def enter(names: list[str]) -> str:
    """Return the end of an error message, which tells the user to enter one of `names`.

    >>> enter(["G6"]), enter(["2G", "3G"])
    ('Enter G6', 'Enter 2G or 3G')
    """
    return f"Enter {listed(names)}"


def nearest(sizes: dict[str, Fraction], wanted: Fraction) -> list[str]:
    """Return the names of the size at or just below the wanted size and of the next larger size.

    A name is left out if there is no such size.

    >>> nearest({"M10": Fraction(10), "M12": Fraction(12), "M14": Fraction(14)}, Fraction(13))
    ['M12', 'M14']
    """
    below = max((name for name in sizes if sizes[name] <= wanted), key=sizes.__getitem__, default="")
    above = min((name for name in sizes if sizes[name] > wanted), key=sizes.__getitem__, default="")
    return [name for name in (below, above) if name]


_NUMBER = r"(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
_SIZE_AND_PITCH = re.compile(
    rf"(?P<size>{_NUMBER})(?: ?x ?(?P<ph>ph)? ?(?P<first>{_NUMBER})(?: ?\(? ?p ?(?P<pitch>{_NUMBER}) ?\)?)?)?"
    r"(?P<ending>.*)",
    re.IGNORECASE,
)


class MetricWords(NamedTuple):
    """The parts of a metric designation, as written by the user.

    Sizes are in mm. The pitch is None if none is written.
    """

    text: str
    size_mm: Fraction
    pitch_mm: Fraction | None
    starts: int
    ending: Ending


def read_metric_words(prefix: str, text: str) -> MetricWords | None:
    """Return the parts of a designation that starts with `prefix`; None if the text does not start with it or has no
    size after it.

    Raise ThreadError for a lead without a pitch, and for a lead that is not a whole number of pitches.
    """
    if not text.upper().startswith(prefix.upper()):
        return None
    match = _SIZE_AND_PITCH.fullmatch(text[len(prefix) :].lstrip(" "))
    if match is None:
        return None
    size = number_in(match["size"], text)
    first = number_in(match["first"], text) if match["first"] else None
    pitch = number_in(match["pitch"], text) if match["pitch"] else first
    if match["ph"] and not match["pitch"]:
        raise refusal(text, 'has a lead ("Ph") without a pitch', f'Enter both, such as "{prefix}24xPh6P3"')
    starts = starts_of(first, pitch, text) if first is not None and pitch is not None and match["pitch"] else 1
    return MetricWords(
        text=text, size_mm=size, pitch_mm=pitch, starts=starts, ending=read_ending(match["ending"], text)
    )
