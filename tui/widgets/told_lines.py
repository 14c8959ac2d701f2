"""What a round of readings tells, as lines of a pager: figures first, then sentences led by what they are."""

from collections.abc import Iterable, Sequence

from textual.content import Content

from core.operations.form import Figure
from core.operations.runout.findings import Kind, Told
from core.values.plain_text import clean
from tui.glyphs import Glyphs
from tui.widgets.figure_list import figure_contents
from tui.widgets.wrapping import wrapped

LEADS: dict[Kind, str] = {"verdict": "=", "asked": "?", "changed": "~", "do": ">", "known": "-"}
_STYLES: dict[Kind, str] = {"verdict": "bold", "asked": "$text-warning", "do": "bold $text-accent"}
_LONGEST = 600


def told_lines(
    figures: Iterable[tuple[str, Sequence[Figure]]], says: Iterable[Told], columns: int, glyphs: Glyphs
) -> list[Content]:
    """Return figures, each group under its heading where it has one, and sentences."""
    lines: list[Content] = []
    for heading, group in figures:
        lines += [Content.styled(heading, "bold")] if heading else []
        lines += figure_contents([Figure(*figure) for figure in group], columns, glyphs)
    for kind, words in says:
        found = wrapped(glyphs.text(clean(words, _LONGEST)), columns, first=f"{LEADS[kind]} ", rest="  ")
        lines += [Content.styled(line, _STYLES.get(kind, "")) for line in found]
    return lines
