"""One reading of an indicator: typed, nudged by graduations, or pasted, in the unit shown beside it."""

from collections.abc import Sequence

from textual.content import Content
from textual.events import Key, Paste
from textual.reactive import reactive
from textual.widget import Widget

from core.lathe.lathe import Lathe
from core.operations.runout.job import graduation_of
from core.operations.runout.readings import nudged_text, other_unit_text, reading_mm
from core.values.errors import QuantityError
from core.values.plain_text import clean, wrapped
from tui.glyphs import glyphs_of

_TYPED = frozenset("0123456789.,+-")
_OF_A_UNIT = frozenset(" \"°'")
_LONGEST = 24
_HELD_S = 0.5
"""Backspace within so long of another is still the same correction, and brings no reading back."""
_NUDGES = {"up": 1, "down": -1}


class ReadingEntry(Widget, can_focus=True):
    """A field for a reading: accepts digits, signs, Backspace, Up, Down, and a unit after a digit.

    All other keys go to its screen.
    """

    text: reactive[str] = reactive("")
    unit_index: reactive[int] = reactive(0)

    def __init__(self, lathe: Lathe, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.graduation_mm, self._say = graduation_of(lathe), lathe.indicator_text
        own: Sequence[str] = ("in", "thou") if lathe.indicator_unit == "in" else ("mm",)
        # First what is engraved on the indicator; the lathe's other unit only for one who asks for it. Graduations
        # that are only assumed are none to count in.
        marks = ["marks"] if lathe.indicator else []
        self.units = (*own, *marks, *([] if lathe.unit in own else [lathe.unit]))
        self.start_mm = 0.0
        """The reading at which Up and Down start in an empty field [mm]."""
        self._corrected_s = 0.0
        self._rows = 0

    @property
    def unit(self) -> str:
        """The unit of a number typed without one: one of core.operations.runout.readings.UNITS."""
        return self.units[self.unit_index]

    def use_unit(self, unit: str | None) -> None:
        """Read numbers without a unit in this unit, if it is one of those offered."""
        if unit in self.units:
            self.unit_index = self.units.index(unit)

    def next_unit(self) -> None:
        """Read numbers without a unit in the next unit."""
        self.unit_index = (self.unit_index + 1) % len(self.units)

    def read_mm(self) -> float:
        """Return the reading in the field [mm]; raises QuantityError, also for an empty field."""
        if not self.text.strip():
            raise QuantityError("Nothing is typed yet. Enter what the indicator shows, + for plunger pushed in.")
        return reading_mm(self.text, self.unit, self.graduation_mm)

    def check_consume_key(self, key: str, character: str | None) -> bool:
        """Return whether a key is for the field. In an empty field Backspace, letters and a space are not."""
        typed = character or ""
        # Behind a digit they are the reading's own unit, as in "2 thou".
        of_unit = bool(self.text) and (key == "backspace" or typed in _OF_A_UNIT or typed.isalpha())
        return typed in _TYPED or key in _NUDGES or of_unit

    def on_key(self, event: Key) -> None:
        """Take a key that is for the field."""
        held = event.key == "backspace" and event.time - self._corrected_s < _HELD_S
        if event.key == "backspace":
            self._corrected_s = event.time
        if not held and not self.check_consume_key(event.key, event.character):
            return
        event.stop()
        if event.key in _NUDGES:
            self._nudge(_NUDGES[event.key])
        elif event.key == "backspace":
            self.text = self.text[:-1]
        elif len(self.text) < _LONGEST:
            self.text += event.character or ""

    def on_paste(self, event: Paste) -> None:
        """Replace what was typed by a pasted reading, which may have its own unit."""
        event.stop()
        self.text = clean(event.text, _LONGEST).strip()

    def _nudge(self, steps: int) -> None:
        try:
            from_mm = self.read_mm() if self.text else self.start_mm
        except QuantityError:
            return
        self.text = nudged_text(from_mm, steps, self.unit, self.graduation_mm)

    def watch_text(self) -> None:
        """Take more rows only if a message needs them: a new layout costs more time than a key may."""
        rows = len(self._lines(self.size.width)) if self.size.width else 0
        if rows != self._rows:
            self._rows = rows
            self.refresh(layout=True)

    def get_content_height(self, container: object, viewport: object, width: int) -> int:
        """Return how many rows the field needs."""
        return len(self._lines(width))

    def render(self) -> Content:
        """Return the field, its unit, and how it is read or what is wrong."""
        first, *others = self._lines(self.size.width)
        return Content("\n").join([Content.styled(first, "bold"), *(Content(line) for line in others)])

    def _lines(self, columns: int) -> list[str]:
        glyphs = glyphs_of(self.app)
        unit = "graduations" if self.unit == "marks" else self.unit
        field = f"{glyphs['current']} Reads [{self.text + '_':<9}] {unit}"
        if not self.text:
            return [field, glyphs.text(f"  Up, Down: by {self._say(self.graduation_mm)}; / unit")]
        try:
            words = f"  = {other_unit_text(self.read_mm(), self.unit, self.graduation_mm, self._say)}"
        except QuantityError as error:
            lead = f"{glyphs['caution']} "
            return [field, *wrapped(glyphs.text(clean(error.message)), columns, first=lead, others="  ")]
        return [field, glyphs.text(words)]
