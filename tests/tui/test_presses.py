"""Held keys, bouncing switches and late presses count one pass for each press by hand."""

from tui.presses import Presses


def test_only_the_first_press_of_a_held_key_counts_a_pass() -> None:
    """Only the first press of a key held at 30 repeats a second counts, and the first press after a pause."""
    presses = Presses(0.8)
    alone = []
    for time_s in (10.0, *(10.5 + repeat / 30 for repeat in range(60)), 13.4):
        assert not presses.is_doubtful(time_s, "space", 1)
        presses.note(time_s, "space", 1)
        if presses.latest_is_alone():
            alone.append(time_s)
    assert alone == [10.0, 13.4]


def test_repeats_of_a_held_enter_key_are_distinguished_from_separate_presses() -> None:
    """On a screen that Enter has just opened, quick repeats come from a held key and a single press from a hand."""
    presses = Presses(0.8)
    presses.note(1.0, "enter", 1)
    assert presses.is_doubtful(1.5, "enter", 2)
    assert presses.is_repeat(1.5, following_s=1.533)
    presses.note_repeat(1.5, "enter")
    assert presses.is_doubtful(1.533, "enter", 2)
    assert presses.is_repeat(1.533, following_s=None)
    presses.note_repeat(1.533, "enter")
    assert not presses.is_repeat(1.8, following_s=2.1)
    assert not presses.is_doubtful(2.4, "enter", 2)


def test_an_enter_pressed_soon_after_a_typed_character_is_accepted() -> None:
    """A character typed in between shows that the user meant the Enter."""
    presses = Presses(0.8)
    presses.note(1.0, "enter", 1)
    presses.note(1.1, "4", 2)
    assert not presses.is_doubtful(1.2, "enter", 2)


def test_a_thousand_key_presses_within_one_second_count_one_pass() -> None:
    presses = Presses(0.8)
    counted = 0
    for number in range(1000):
        presses.note(7.0 + number / 1000, "space", 1)
        counted += presses.latest_is_alone()
    assert counted == 1
