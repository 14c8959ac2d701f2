"""The fields of a ring pattern: those of all rings, a list of the rings, and one ring's fields at a time."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from core.operations.form import Row
from core.operations.patterns.open_quantity import Answer
from core.operations.patterns.skipped import read_left_out
from core.values.errors import PlanError
from core.values.fields import Problem
from core.values.plain_text import clean
from tui.operation.form import OperationForm
from tui.widgets.line_list import LineList

RING_ENTRIES = ("count", "offset", "cutter_radius", "start", "depth", "left_out")
RADIUS_IS, MEETING = "radius_is", "meeting"
A_LENGTH = "a length"
_RING_KEYS = (*RING_ENTRIES, RADIUS_IS, MEETING)


@dataclass(frozen=True)
class RingFields:
    """One ring as its fields hold it."""

    texts: Mapping[str, str] = field(default_factory=dict)
    """What stands in each field."""
    radius_is: str = A_LENGTH
    table: Mapping[str, Any] = field(default_factory=dict)
    """The ring's table as a job file holds it."""

    @classmethod
    def of(cls, table: Mapping[str, Any]) -> "RingFields":
        """Return a ring as a job file's table says it."""
        texts = {key: str(table[key]) for key in RING_ENTRIES if key in table}
        left_out = table.get("left_out")
        if isinstance(left_out, list | tuple):
            texts["left_out"] = ", ".join(str(number) for number in left_out)
        if not texts.get("cutter_radius", "").startswith("touch"):
            return cls(texts, A_LENGTH, dict(table))
        return cls(texts, texts.pop("cutter_radius"), dict(table))

    @property
    def words(self) -> str:
        """The ring in a line."""
        table = self.table
        parts = [f"{table.get('count', '?')} at {table.get('offset', '?')}, radius {table.get('cutter_radius', '?')}"]
        parts += [f"from {table['start']}"] if "start" in table else []
        parts += [f"{table['depth']} deep"] if "depth" in table else []
        left_out = table.get("left_out")
        parts += [f"{len(left_out)} left out"] if isinstance(left_out, list) and left_out else []
        return clean(", ".join(parts), 200)


class RingList(LineList):
    """The rings, one a line, and behind them a line that adds one; Up and Down go out at its ends."""

    BINDINGS = [
        Binding("a,insert", "screen.add_ring", "Add", show=False),
        Binding("x,delete", "screen.remove_ring", "Remove", show=False),
        Binding("less_than_sign,comma,b", "screen.shift_ring(-1)", "Earlier", show=False),
        Binding("greater_than_sign,full_stop,n", "screen.shift_ring(1)", "Later", show=False),
    ]

    def action_move(self, step: int) -> None:
        """Go up or down, and out at either end."""
        if step < 0 and self.cursor == 0:
            self.screen.focus_previous()
        elif step > 0 and self.cursor == self.count - 1:
            self.screen.focus_next()
        else:
            super().action_move(step)


class PatternForm(OperationForm):
    """Holds every ring; the fields are those of the ring that the list points at."""

    DEFAULT_CSS = """
    PatternForm #ring-keys { height: 1; color: $text-muted; }
    """

    def __init__(self, rows: Sequence[Row], table: Mapping[str, Any], screen_keys: Collection[str]) -> None:
        """`screen_keys`: fields that are for the screen alone and stand in no table."""
        rings = [RingFields.of(ring) for ring in table.get("ring", ()) if isinstance(ring, Mapping)]
        self.rings: list[RingFields] = rings or [RingFields()]
        self.at = 0
        self.answer: Answer | None = None
        """What would go into the one field that was left open."""
        self.refusal = ""
        """Why nothing can go there."""
        self._screen_keys = frozenset(screen_keys)
        self._wrong: set[int] = set()
        self._listed: tuple[str, list[str]] | None = None
        own = {key: value for key, value in table.items() if key != "ring"}
        super().__init__(rows, {**own, **self.rings[0].texts})

    def compose(self) -> ComposeResult:
        """The fields, with the list of rings before those of one ring."""
        for widget in super().compose():
            if widget is self.entries["count"][1]:
                yield RingList(id="rings")
                yield Static("  a add, x remove, b before, n behind", id="ring-keys", markup=False)
                yield Static(id="which", classes="heading", markup=False)
            yield widget

    def on_mount(self) -> None:
        """List the rings."""
        self.list_rings()

    # What the fields say.

    def table(self) -> dict[str, Any]:
        """Return the operation's table, every ring in it."""
        self.hold()
        own = {key: value for key, value in super().table().items() if key not in (*_RING_KEYS, *self._screen_keys)}
        return {**own, "ring": [dict(ring.table) for ring in self.rings]}

    def screen_table(self) -> dict[str, Any]:
        """Return what the fields say that are for the screen alone."""
        return {key: value for key, value in super().table().items() if key in self._screen_keys}

    def hold(self) -> None:
        """Keep what the fields of the ring at hand hold."""
        said = super().table()
        table = {key: said[key] for key in RING_ENTRIES if key in said}
        radius_is = self.chosen(RADIUS_IS)
        if radius_is != A_LENGTH:
            table["cutter_radius"] = radius_is
        if "left_out" in table:
            # Otherwise core refuses the text itself; the sentence beside the field says what can be typed here.
            with suppress(PlanError):
                table["left_out"] = self._left_out(table)
        texts = {key: self.entries[key][1].text for key in RING_ENTRIES}
        self.rings[self.at] = RingFields(texts, radius_is, table)

    @staticmethod
    def _left_out(table: Mapping[str, Any]) -> list[int]:
        count = table.get("count")
        return list(read_left_out(str(table["left_out"]), count if isinstance(count, int) else 9999))

    def missing(self) -> list[str]:
        """Return what is still to be filled in; where that can be worked out, what it would be."""
        open_label = self.label_of(self.answer.key) if self.answer else None
        return [
            f"{label} (= fills in {self.answer.text}: {self.answer.note})"
            if self.answer and label == open_label
            else label
            for label in super().missing()
        ]

    def hint(self, hints: Mapping[str, str]) -> None:
        """Show what counts where nothing is typed, and what would go into the field that was left open."""
        solved = {self.answer.key: f"{self.answer.text}: press ="} if self.answer else {}
        super().hint({**hints, **solved})

    def tell(self, problems: Iterable[Problem]) -> list[Problem]:
        """Say what is wrong beside the fields of the ring at hand; return the rest, other rings' by their number."""
        here: list[Problem] = []
        elsewhere: list[Problem] = []
        self._wrong = set()
        for problem in problems:
            ring = _ring_of(problem)
            if ring is not None:
                self._wrong.add(ring)
            if ring is None or ring == self.at + 1:
                here.append(self._in_own_words(problem))
            else:
                message = f"{self.label_of(problem.key)}: {problem.message}"
                elsewhere.append(Problem(where="", key=f"ring {ring}", message=message))
        untold = super().tell(here)
        if self.refusal:
            untold.append(Problem(where="", key="nothing fits", message=self.refusal))
        self.list_rings()
        return [*untold, *elsewhere]

    def _in_own_words(self, problem: Problem) -> Problem:
        said = OperationForm.table(self)
        if problem.key != "left_out" or "left_out" not in said:
            return problem
        try:
            self._left_out(said)
        except PlanError as error:
            return problem._replace(message=error.message)
        return problem

    # The rings.

    def list_rings(self) -> None:
        """Show the rings as they are held now."""
        if not self.is_mounted:
            return
        rings = [
            f"{number}: {'! ' if number in self._wrong else ''}{ring.words}"
            for number, ring in enumerate(self.rings, start=1)
        ]
        which = f"Ring {self.at + 1} of {len(self.rings)}"
        if (which, rings) != self._listed:
            # A list shown anew lays out the whole screen, which a key in a field need not wait for.
            self._listed = which, rings
            self.query_one(RingList).show([*rings, "Add a ring like this one"])
            self.query_one("#which", Static).update(Content(which))

    def turn_to(self, index: int) -> None:
        """Put another ring into the fields."""
        self.hold()
        self._show_ring(index)

    def add_ring(self) -> None:
        """Put a copy of the ring at hand behind it, and go there."""
        self.hold()
        self.rings.insert(self.at + 1, self.rings[self.at])
        self._show_ring(self.at + 1)

    def remove_ring(self) -> None:
        """Take the ring at hand away; the only one stays."""
        if len(self.rings) > 1:
            del self.rings[self.at]
            self._show_ring(min(self.at, len(self.rings) - 1))

    def shift_ring(self, step: int) -> None:
        """Change places with the ring before or behind."""
        self.hold()
        other = self.at + step
        if 0 <= other < len(self.rings):
            self.rings[self.at], self.rings[other] = self.rings[other], self.rings[self.at]
            self._show_ring(other)

    def fill_in(self) -> str:
        """Put what was worked out into its field, and return its label."""
        if self.answer is None:
            return ""
        entry = self.entries[self.answer.key][1]
        entry.text = self.answer.text
        entry.focus()
        return self.label_of(self.answer.key)

    def _show_ring(self, index: int) -> None:
        self.at = index
        ring = self.rings[index]
        for key in RING_ENTRIES:
            self.entries[key][1].text = ring.texts.get(key, "")
        self.choices[RADIUS_IS][1].value = ring.radius_is
        self.list_rings()
        self.query_one(RingList).cursor = index


def _ring_of(problem: Problem) -> int | None:
    """Return the number of the ring that a problem is about, None where it is about none."""
    for text in (problem.where.rpartition(", ")[2], problem.message.partition(":")[0]):
        word, _, number = text.partition(" ")
        if word == "ring" and number.isdecimal():
            return int(number)
    return None
