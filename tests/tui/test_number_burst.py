"""Numbers from instruments are recognized at any speed of an instrument, and are never mistaken for keys.

Instruments with a cable act as keyboards. They send a sign, digits, a point or comma, often a unit, then Enter (common
practice, no source).
"""

import pytest
from textual.events import Key

from tui.number_burst import Burst, FieldTyping, first_burst, plain_number
from tui.presses import Presses

QUICK_S = 0.2
NAMES = {"\r": "enter", "\n": "ctrl+j", " ": "space", "-": "minus"}


def keys(text: str, gap_s: float, start_s: float = 10.0) -> list[Key]:
    """Return the keys that type a text, with a gap of `gap_s` between them [s]."""
    made = []
    for number, character in enumerate(text):
        key = Key(NAMES.get(character, character), character)
        key.time = start_s + number * gap_s
        made.append(key)
    return made


def burst(text: str, gap_s: float = 0.005) -> Burst:
    """Return the burst that a text typed alone forms."""
    found = first_burst(keys(text, gap_s), QUICK_S)
    assert found is not None
    return found


@pytest.mark.parametrize("gap_s", [0.0, 0.005, 0.03, 0.1])
@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("28.71\r", "28.71"),
        ("28,71\n", "28.71"),
        ("-0.03\r", "-0.03"),
        ("+00028.710\r", "28.710"),
        ("28,710 mm\r", "28.710 mm"),
        ('1.1305"\r', '1.1305"'),
        ("1.1305in\n", "1.1305in"),
        ("0.00\r", "0.00"),
        (".5\r", "0.5"),
        ("12\r", "12"),
    ],
)
def test_characters_that_arrive_quickly_and_end_with_enter_are_read_as_one_number(
    typed: str, number: str, gap_s: float
) -> None:
    """Sign, comma, unit and both kinds of Enter belong to the number."""
    found = burst(typed, gap_s)
    assert (found.kind, found.keys, plain_number(found.text)) == ("number", len(typed), number)
    assert found.is_sure == (gap_s <= 0.03 and len(typed) > 4)


@pytest.mark.parametrize(
    ("typed", "kind", "count"),
    [
        ("1\r", "by hand", 2),
        ("11", "by hand", 2),
        ("2\x1b", "by hand", 1),
        ("--", "by hand", 1),
        ("11111", "held", 5),
        ("1111\r", "held", 5),
        ("28.71", "unended", 5),
        ("28.71x", "unended", 5),
        ("1.2.3\r", "unended", 3),
    ],
)
def test_keys_pressed_quickly_that_form_no_number_are_not_taken_as_a_measurement(
    typed: str, kind: str, count: int
) -> None:
    """One or two keys may be quick presses by hand, and a held digit repeats. A number without Enter is not used."""
    found = burst(typed)
    assert (found.kind, found.keys) == (kind, count)


def test_a_key_that_cannot_start_a_number_is_passed_on_at_once() -> None:
    """Letters never wait for a following key, nor do Space and Enter alone."""
    for typed in ("m", " ", "\r", "\n", "x28.71\r"):
        assert first_burst(keys(typed, 0.005), QUICK_S) is None


def test_digits_that_arrive_slowly_count_as_keys_pressed_by_hand() -> None:
    """Digits that follow each other after a quarter of a second count as single keys."""
    assert burst("28.71\r", 0.25)[:3] == ("by hand", "2", 1)


def test_a_number_may_continue_until_an_enter_arrives() -> None:
    """Until an Enter or a pause follows, a digit may be a single key or the start of a number."""
    assert burst("2").may_go_on and burst("28.7").may_go_on and not burst("28.7\r").may_go_on


def test_only_a_number_that_arrives_faster_than_a_hand_types_is_certainly_from_an_instrument() -> None:
    """Characters 5 ms apart certainly come from an instrument. Characters 100 ms apart may come from a hand."""
    for gap_s, is_sure in ((0.005, True), (0.1, False)):
        typing, field = FieldTyping(), object()
        *typed, enter = keys("28.71\r", gap_s)
        for key in typed:
            typing.note(key, field, "2", QUICK_S)
        assert typing.ended(enter, field, QUICK_S) == ("2", "28.71", is_sure)
        assert typing.ended(enter, field, QUICK_S) is None


@pytest.mark.parametrize(
    ("key", "later_s", "ends"), [("enter", 1.9, True), ("enter", 2.1, False), ("space", 0.1, False)]
)
def test_pressing_enter_within_two_seconds_after_a_digit_ends_a_number(key: str, later_s: float, ends: bool) -> None:
    """A Space counts a pass at any time after a digit."""
    presses = Presses(0.8)
    presses.note(5.0, "7", 1)
    presses.note(5.0 + later_s, key, 1)
    assert presses.latest_ends_number() == ends
