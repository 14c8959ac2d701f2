"""A flood of keys, as from a pasted file, never fills the memory. An invalid time zone never stops the clock."""

import time
from datetime import datetime

import pytest
from textual.driver import Driver
from textual.drivers.headless_driver import HeadlessDriver
from textual.events import Key, Resize
from textual.geometry import Size
from textual.message import Message

from tests.conftest import MakeApp
from tests.tui.painted import painted
from tui.key_flood import MOST_WAITING, QUIET_S, KeyFlood, limited_driver
from tui.terminal import SYSTEM_CLOCK


def test_the_number_of_waiting_key_presses_never_exceeds_the_limit() -> None:
    """Later keys are dropped until the keyboard has been quiet, even if the program has handled earlier keys."""
    flood = KeyFlood()
    taken = [flood.admit(number / 100_000) for number in range(100_000)]
    assert sum(taken) == MOST_WAITING and all(taken[:MOST_WAITING])
    said = [flood.answered() for _ in range(MOST_WAITING)]
    assert not flood.admit(1.0 + QUIET_S / 2)
    assert flood.admit(1.0 + 2 * QUIET_S) and not any(said)
    assert flood.answered() == "99001 keys arrived too fast and were ignored. Check the screen before you continue."
    assert flood.answered() == ""


def test_the_repeats_of_a_held_key_are_never_dropped() -> None:
    """A held key sends thirty keys a second for two minutes. Each is handled within a tenth of a second."""
    flood = KeyFlood()
    for number in range(3_600):
        assert flood.admit(number / 30)
        if number >= 3:
            assert flood.answered() == ""


async def test_dropped_key_presses_are_reported(make: MakeApp) -> None:
    """The next typed key shows the message. Messages other than keys are never dropped."""
    app = make()
    passed: list[Message] = []

    class Reading(HeadlessDriver):
        def send_message(self, message: Message) -> None:
            passed.append(message)

    assert app.get_driver_class().send_message is not Driver.send_message
    async with app.run_test(size=(80, 24)) as pilot:
        reading = limited_driver(Reading, app.key_flood)(app)
        for _ in range(MOST_WAITING + 50):
            reading.send_message(Key("a", "a"))
        reading.send_message(Resize(Size(80, 24), Size(80, 24)))
        assert len(passed) == MOST_WAITING + 1 and isinstance(passed[-1], Resize)
        app.key_flood._answered = app.key_flood._admitted
        app.key_flood._last_s -= 2 * QUIET_S
        reading.send_message(Key("b", "b"))
        await pilot.press("down")
        assert "50 keys arrived too fast and were ignored." in painted(app)


@pytest.mark.parametrize(("zone", "offset_h"), [("ABC+25", 0), ("ABC-24", 0), ("ABC-167", 0), ("ABC+3", -3)])
def test_a_time_zone_with_an_impossible_offset_is_read_as_utc(
    zone: str, offset_h: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the environment variable TZ has an impossible offset, the log uses UTC."""
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        offset = datetime.fromisoformat(SYSTEM_CLOCK.wall()).utcoffset()
    finally:
        monkeypatch.undo()
        time.tzset()
    assert offset is not None and offset.total_seconds() == offset_h * 3600
