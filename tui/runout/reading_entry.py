"""The field for an indicator reading. The user types or pastes the reading, or changes it by whole graduations."""

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
"""A Backspace within this time [s] after another one belongs to the same correction, and undoes no reading."""
_NUDGES = {"up": 1, "down": -1}


class ReadingEntry(Widget, can_focus=True):
    """The field for a reading.

    The field takes digits, signs, Backspace, Up, Down, and the letters of a unit after a digit. All other keys go to
    the screen.
    """

    text: reactive[str] = reactive("")
    unit_index: reactive[int] = reactive(0)

    def __init__(self, lathe: Lathe, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.graduation_mm, self._say = graduation_of(lathe), lathe.indicator_text
        own: Sequence[str] = ("in", "thou") if lathe.indicator_unit == "in" else ("mm",)
        # The unit engraved on the indicator comes first. The lathe's other unit needs the key for the next unit.
        # Graduations count as a unit only if the lathe file states them.
        marks = ["marks"] if lathe.indicator else []
        self.units = (*own, *marks, *([] if lathe.unit in own else [lathe.unit]))
        self.start_mm = 0.0
        """The reading from which Up and Down start in an empty field [mm]."""
        self._corrected_s = 0.0
        self._rows = 0

    @property
    def unit(self) -> str:
        """The unit of readings typed without a unit, one of `core.operations.runout.readings.UNITS`."""
        return self.units[self.unit_index]

    def use_unit(self, unit: str | None) -> None:
        """Use `unit` for readings typed without a unit.

        Do nothing for None, or for a unit that the field does not offer.
        """
        if unit in self.units:
            self.unit_index = self.units.index(unit)

    def next_unit(self) -> None:
        """Use the next unit for readings typed without a unit."""
        self.unit_index = (self.unit_index + 1) % len(self.units)

    def read_mm(self) -> float:
        """Return the reading in the field [mm].

        Raise QuantityError for an empty field or for a text that is not a reading.
        """
        if not self.text.strip():
            raise QuantityError(
                "The field is empty. Enter the reading of the indicator. Plus means that the plunger is pushed in."
            )
        return reading_mm(self.text, self.unit, self.graduation_mm)

    def check_consume_key(self, key: str, character: str | None) -> bool:
        """Return whether the field takes a key.

        An empty field takes no Backspace, letters or Space. `character`: the character that the key types; None for a
        key without one.
        """
        typed = character or ""
        # Letters after a digit are a unit, such as in "2 thou".
        of_unit = bool(self.text) and (key == "backspace" or typed in _OF_A_UNIT or typed.isalpha())
        return typed in _TYPED or key in _NUDGES or of_unit

    def on_key(self, event: Key) -> None:
        """Change the text according to a key that the field takes."""
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
        """Replace the text with a pasted reading, which may have a unit."""
        event.stop()
        self.text = clean(event.text, _LONGEST).strip()

    def _nudge(self, steps: int) -> None:
        try:
            from_mm = self.read_mm() if self.text else self.start_mm
        except QuantityError:
            return
        self.text = nudged_text(from_mm, steps, self.unit, self.graduation_mm)

    def watch_text(self) -> None:
        """Lay the screen out again only if the field's number of rows has changed, because a new layout is slow."""
        rows = len(self._lines(self.size.width)) if self.size.width else 0
        if rows != self._rows:
            self._rows = rows
            self.refresh(layout=True)

    def get_content_height(self, container: object, viewport: object, width: int) -> int:
        """Return the number of rows that the field needs, including an error below the text."""
        return len(self._lines(width))

    def render(self) -> Content:
        """Return the typed text with its unit, and below the text the reading in another unit or an error."""
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
