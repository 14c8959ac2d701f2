"""The text of the counter's body for one step, ready to be arranged in rows."""

from typing import NamedTuple

from core.run.counter_view import CounterView
from core.values.plain_text import clean

_LONGEST = 2000
"""The most characters of one text. The counter scrolls a text that is too long for the screen."""


class FaceWords(NamedTuple):
    """All text of the counter's body for one step. Text from files and users has no control characters here."""

    title: str = ""
    done: int = 0
    total: int = 0
    text: str = ""
    """The instruction, if the dial and the number alone do not say everything."""
    number: str = ""
    beside: tuple[str, ...] = ()
    """The rows next to the number: the dial, the direction to turn it, and the readings of further dials."""
    below: tuple[str, ...] = ()
    """How much the pass removes, and the dials to leave alone."""
    before: str = ""
    """The reading of the step before this one."""
    coming: tuple[str, ...] = ()
    """The next few readings, shown together in one row."""
    listed: tuple[str, ...] = ()
    """The next steps, one in each row, for a screen with spare rows."""
    movements: str = ""
    """The movements of a pass, in order."""
    findings: tuple[str, ...] = ()
    """The results of the last measurement."""
    cautions: tuple[str, ...] = ()
    logged: str = ""

    @property
    def without_next_steps(self) -> "FaceWords":
        """The same text without the next steps, for a narrow column."""
        return self._replace(coming=(), listed=())

    @property
    def essential(self) -> "FaceWords":
        """The text that the current step needs, without the readings of earlier and later steps."""
        return self._replace(before="", coming=(), listed=())


def face_words(view: CounterView, held: str, changing: frozenset[str], listed: tuple[str, ...]) -> FaceWords:
    """Return the text of the counter's body for a step. A step without a dial has no big number.

    `held`: a sentence that names dials to leave alone; "" for none. It replaces the rows about the step's further
    dials, except about the dials in `changing`. `listed`: the next steps, one in each row.
    """
    dial = view.dial
    also = tuple(line for line in view.also if not held or any(line.startswith(name) for name in changing))
    beside = list(also)
    if dial is not None:
        at_its_mark = (part for part in (dial.turns, f"{dial.number} {dial.unit}", dial.direction) if part)
        absolute = [f"({dial.absolute})"] if dial.absolute else []
        beside = [dial.name.upper(), *at_its_mark, *absolute, "", *also]
    movements = "  → ".join(f"{words}." for words in view.movements)
    return FaceWords(
        title=clean(view.title),
        done=view.done,
        total=view.total,
        text=clean(view.text, _LONGEST) if dial is None or not view.amounts else "",
        number=(dial.large or dial.number) if dial else "",
        beside=tuple(clean(line) for line in beside),
        below=tuple(clean(line, _LONGEST) for line in (view.amounts, held)),
        before=clean(view.before),
        coming=tuple(map(clean, view.coming)),
        listed=tuple(map(clean, listed)),
        movements=clean(movements, _LONGEST),
        findings=tuple(clean(finding, _LONGEST) for finding in view.findings),
        cautions=tuple(clean(caution, _LONGEST) for caution in view.cautions),
    )
