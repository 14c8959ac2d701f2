"""Reads the text, the characters and the colours of the painted screen.

The strips of Textual's compositor are private. No other test file uses them.
"""

from collections.abc import Iterator
from typing import Any, NamedTuple

from rich.color import Color
from rich.style import Style
from textual.app import App

# The palette of a VGA text screen, which the Linux console starts with.
_VGA = (
    (0, 0, 0),
    (170, 0, 0),
    (0, 170, 0),
    (170, 85, 0),
    (0, 0, 170),
    (170, 0, 170),
    (0, 170, 170),
    (170, 170, 170),
    (85, 85, 85),
    (255, 85, 85),
    (85, 255, 85),
    (255, 255, 85),
    (85, 85, 255),
    (255, 85, 255),
    (85, 255, 255),
    (255, 255, 255),
)


class Piece(NamedTuple):
    """A piece of painted text in one style."""

    text: str
    style: Style


def pieces(app: App[Any]) -> Iterator[list[Piece]]:
    """Yield each painted row of the top screen."""
    for strip in app.screen._compositor.render_strips():
        yield [Piece(segment.text, segment.style or Style.null()) for segment in strip]


def painted(app: App[Any]) -> str:
    """Return the top screen as plain text, without blanks at the ends of rows."""
    return "\n".join("".join(piece.text for piece in line).rstrip() for line in pieces(app))


def foreign(app: App[Any], safe: frozenset[str]) -> set[str]:
    """Return the painted characters that are not in `safe`."""
    return set(painted(app)) - safe - {"\n"}


def least_contrast(app: App[Any]) -> tuple[float, str]:
    """Return the lowest contrast ratio between any painted text and its background, and that text.

    Relative luminance and contrast ratio follow WCAG 2.1.
    """
    found = [(contrast(piece.style), piece.text) for line in pieces(app) for piece in line if piece.text.strip()]
    return min(found)


def contrast(style: Style) -> float:
    """Return the contrast ratio between text and background of a style, following WCAG 2.1."""
    lightness = [_luminance(style.color, 7), _luminance(style.bgcolor, 0)]
    return (max(lightness) + 0.05) / (min(lightness) + 0.05)


def _luminance(colour: Color | None, default: int) -> float:
    if colour is None or colour.is_default:
        rgb = _VGA[default]
    elif colour.triplet is not None:
        rgb = (colour.triplet.red, colour.triplet.green, colour.triplet.blue)
    else:
        assert colour.number is not None
        rgb = _VGA[colour.number]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in (c / 255 for c in rgb)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
