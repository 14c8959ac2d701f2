"""Closed screens are freed from memory, so that a program that runs for weeks does not grow."""

import gc

import pytest

from tests.conftest import MakeApp
from tui.convert.screen import ConversionScreen
from tui.help import HelpScreen
from tui.operation.divisions import DivisionsScreen
from tui.widgets.header_line import HeaderLine

pytestmark = pytest.mark.usefixtures("every_frame")


def _count(kind: type[object]) -> int:
    gc.collect()
    return sum(type(found) is kind for found in gc.get_objects())


@pytest.mark.parametrize("kind", [ConversionScreen, DivisionsScreen])
async def test_a_screen_that_is_notified_of_a_change_of_lathe_is_freed_from_memory_after_it_closes(
    make: MakeApp, kind: type[ConversionScreen]
) -> None:
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        headers = _count(HeaderLine)
        for _ in range(5):
            await app.push_screen(kind())
            await pilot.pause()
            await app.screen.dismiss()
            await pilot.pause()
        # The message that closed the last screen may still hold that screen.
        assert _count(kind) <= 1 and _count(HeaderLine) <= headers + 1


async def test_changing_the_lathe_updates_the_header_of_a_screen_covered_by_another(
    make: MakeApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        header = app.screen.query_one(HeaderLine)
        refreshed: list[bool] = []
        monkeypatch.setattr(header, "refresh", lambda: refreshed.append(True))
        await app.push_screen(HelpScreen(app.screen))
        app.context.lathe_changed.publish(app.context.lathe)
        await pilot.pause()
        assert refreshed
