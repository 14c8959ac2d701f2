"""Opens the conversion page from any screen, and puts the chosen answer into the field that had the focus."""

from textual.app import App

from core.conversion.convert import convert
from core.conversion.unit_lookup import BackgroundUnits
from core.values.errors import CoreError
from tui.convert.screen import ConversionScreen
from tui.setup.chapter import ChapterScreen
from tui.widgets.plain_input import PlainInput
from tui.widgets.quantity_field import QuantityField


def ask_conversion(app: App[None]) -> None:
    """Open the conversion page. If a field has the focus, it supplies the question and gets the chosen answer."""
    if isinstance(app.screen, ConversionScreen):
        return
    entry = app.screen.focused
    fields = (node for node in entry.ancestors if isinstance(node, QuantityField | ChapterScreen)) if entry else ()
    field = next(iter(fields), None)
    if field is None or not isinstance(entry, PlainInput):
        app.push_screen(ConversionScreen())
        return

    def put(text: str | None) -> None:
        if text is not None and entry.is_attached:
            # The text goes in like typed text, so that the field checks it and notifies its screen.
            entry.offer(text)

    limits = isinstance(field, QuantityField) and field.takes_limits
    screen = ConversionScreen(_readable(field.stated), into=field.label, unit=field.unit, limits=limits)
    app.push_screen(screen, put)


def _readable(text: str) -> str:
    """Return the text of a field; "" if the text cannot be converted."""
    if not any(character.isdecimal() for character in text):
        return ""
    try:
        convert(text, None, units=BackgroundUnits(None))
    except CoreError:
        return ""
    return text
