"""The body of the counter: no word is cut off at any width, and only changed rows are painted again."""

import pytest
from rich.cells import cell_len

from core.run.counter_view import CounterView
from tests.conftest import MakeApp
from tests.tui.painted import painted
from tui.counter.face import CounterFace, arranged
from tui.counter.face_words import FaceWords, face_words
from tui.glyphs import Glyphs
from tui.widgets.base_screen import BaseScreen

WORDS = FaceWords(
    title="Pass 3 of 16",
    done=9,
    total=29,
    text="Touch off where 工作物 stands highest and set it to nought",
    number="0.76",
    beside=("COMPOUND", "0.76 mm", "", "cross-slide at 0, in the same turn"),
    below=("takes 0.175 mm on the radius; then 1.277 mm to go on the radius", "before: 0.56   next: 0.94, 1 turn 0.08"),
    cautions=("chuck key out before power",),
    logged="time 12 min   Logged: Pass 2 of 16, compound 0.56 mm.",
)


def said(words: FaceWords) -> list[str]:
    """Return every word of the counter's body except the words of its first row."""
    return " ".join([words.text, *words.beside, *words.below, *words.cautions, words.logged]).split()


@pytest.mark.parametrize("columns", [120, 80, 40, 24])
@pytest.mark.parametrize("rows", [36, 18, 3])
def test_text_on_the_counter_is_wrapped_to_the_screen_width_without_losing_a_word(columns: int, rows: int) -> None:
    """No row is wider than the screen in terminal cells, and every word is in some row."""
    lines = ["".join(text for text, _ in row) for row in arranged(WORDS, columns, rows, Glyphs("braille")).rows]
    assert max(map(cell_len, lines)) <= columns
    assert len(lines) >= rows
    shown = "\n".join(lines).split()
    assert [word for word in said(WORDS) if word not in shown] == []


async def test_a_long_instruction_on_the_counter_can_be_scrolled_to_its_last_word(make: MakeApp) -> None:
    """At 80x24 an instruction of 1600 characters takes 20 rows. Page down shows its last word."""
    text = " ".join(f"word{number:03}" for number in range(200))
    face = CounterFace()

    class Shown(BaseScreen[None]):
        def compose_body(self):  # type: ignore[no-untyped-def]
            yield face

    view = CounterView(
        "Set", text, None, (), "", "", "", (), (), ("Stop the spindle.",), (), done=1, total=2
    )  # fmt: skip
    async with make(opening=Shown).run_test(size=(80, 24)) as pilot:
        face.show(face_words(view, "", frozenset(), ()))
        await pilot.pause()
        assert "word000" in painted(pilot.app) and "Stop the spindle." not in painted(pilot.app)
        await pilot.press("pagedown")
        await pilot.pause()
        assert "word199" in painted(pilot.app) and "Stop the spindle." in painted(pilot.app)


@pytest.mark.usefixtures("every_frame")
async def test_only_the_changed_rows_of_the_counter_are_painted_again(
    make: MakeApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A new time paints one row again. The same words paint no row."""
    face = CounterFace()

    class Shown(BaseScreen[None]):
        def compose_body(self):  # type: ignore[no-untyped-def]
            yield face

    async with make(opening=Shown).run_test(size=(80, 24)) as pilot:
        face.show(WORDS)
        await pilot.pause()
        made: list[int] = []
        render_line = CounterFace.render_line
        monkeypatch.setattr(CounterFace, "render_line", lambda self, y: made.append(y) or render_line(self, y))
        face.show(WORDS)
        await pilot.pause()
        assert made == []
        face.show(WORDS._replace(logged="13:00"))
        await pilot.pause()
        assert len(made) == 1
        assert "13:00" in painted(pilot.app)
        assert "Logged:" not in painted(pilot.app)
