"""The pages that show a run's cautions: one page after another before the run, and a single page during the run."""

from collections.abc import Iterator, Sequence
from typing import ClassVar, NamedTuple

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.geometry import Size

from core.plan import Plan
from core.values.plain_text import clean, wrapped
from tui.widgets.base_screen import HEIGHTS
from tui.widgets.caution_list import CautionList
from tui.widgets.question import QuestionScreen, Sentence, YesNo

_GENERAL, _OWN = "Every time", "This time"
_MOST_COLUMNS = 90
_MARK_COLUMNS = 2
_KEYS_ON_ONE_ROW = 72
"""The smallest screen width [columns] at which the key bar needs only one row. A narrower screen needs up to three."""
_ANSWER_ROWS = 2
_HIGH_FROM = HEIGHTS[-1][0]


class CautionPart(NamedTuple):
    """A heading, and the cautions below this heading."""

    heading: str
    cautions: tuple[str, ...]


def parts_of(plan: Plan) -> list[CautionPart]:
    """Return the cautions of a plan under their headings: general cautions first, then cautions of this run."""
    return [part for part in (CautionPart(_GENERAL, plan.general), CautionPart(_OWN, plan.cautions)) if part.cautions]


def pages_of(plan: Plan, question: str, size: Size) -> list[list[CautionPart]]:
    """Return the cautions of a plan, divided into pages that each fit a screen of `size`; at least one page.

    The cautions of this run start on a new page if they do not all fit below the general cautions. `question`: the
    sentence above the cautions.
    """
    columns, rows = _room(question, size)
    pages: list[list[CautionPart]] = [[]]
    left = rows
    for part in parts_of(plan):
        needed = 1 + sum(_rows(caution, columns) for caution in part.cautions)
        if pages[-1] and needed > left:
            pages.append([])
            left = rows
        left -= 1
        held: list[str] = []
        for caution in part.cautions:
            if held and _rows(caution, columns) > left:
                pages[-1].append(CautionPart(part.heading, tuple(held)))
                pages.append([])
                held, left = [], rows - 1
            held.append(caution)
            left -= _rows(caution, columns)
        pages[-1].append(CautionPart(part.heading, tuple(held)))
    return pages


def _room(question: str, size: Size) -> tuple[int, int]:
    """Return how many columns and rows a page has for cautions, between the question and the answers."""
    frame = 2 if size.height >= _HIGH_FROM else 0
    columns = max(min(size.width, _MOST_COLUMNS) - 2 - frame, 1)
    asked = len(wrapped(clean(question, 600), columns))
    between = 2 if frame else 0
    keys = 1 if size.width >= _KEYS_ON_ONE_ROW else 3
    return columns, max(size.height - frame - between - asked - _ANSWER_ROWS - keys, 2)


def _rows(caution: str, columns: int) -> int:
    return len(wrapped(clean(caution, 600), max(columns - _MARK_COLUMNS, 1)))


def _shown(parts: Sequence[CautionPart]) -> Iterator[Sentence | CautionList]:
    for part in parts:
        heading = Sentence(part.heading)
        heading.add_class("part")
        yield heading
        yield CautionList(part.cautions)


class StartPage(YesNo):
    """One page of cautions before a run. The run starts when the user answers the last page."""

    def __init__(self, question: str, parts: Sequence[CautionPart], *, more: bool) -> None:
        """Show the cautions of `parts` below the sentence `question`.

        `more`: True if another page follows this page.
        """
        super().__init__(question, yes="Next page" if more else "Start", no="Not yet", default=True)
        self._parts = parts

    def compose_known(self) -> ComposeResult:
        """Yield the cautions of this page."""
        yield from _shown(self._parts)


class CautionPage(QuestionScreen[None]):
    """All cautions of an open run, on one page that scrolls."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,space", "cancel", "Close", tooltip="Close this page."),
    ]

    def __init__(self, plan: Plan) -> None:
        super().__init__("Cautions of this run")
        self._plan = plan

    def compose_known(self) -> ComposeResult:
        """Yield all cautions: general cautions first, then cautions of this run."""
        yield from _shown(parts_of(self._plan))
