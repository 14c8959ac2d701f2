"""Held keys, bouncing switches and leftover presses: one pass for each press by hand."""

from tui.presses import Presses


def test_a_held_key_is_alone_once() -> None:
    """Of a key held at 30 repeats a second only the first press is alone, and the next one after a pause."""
    presses = Presses(0.8)
    times = [10.0, *(10.5 + repeat / 30 for repeat in range(60)), 13.4]
    for time_s in times:
        assert presses.note(time_s, "space", 1)
    assert [time_s for time_s in times if presses.alone(time_s)] == [10.0, 13.4]


def test_a_bounce_counts_once_even_when_its_action_comes_late() -> None:
    """Both presses of a bounce are noted before the action of the first runs: that one counts, the second not."""
    presses = Presses(0.8)
    presses.note(5.0, "space", 1)
    presses.note(5.01, "space", 1)
    counted = []
    for time_s in (5.0, 5.01):
        assert presses.comes_back(time_s, "space", 1)
        counted.append(presses.latest_is_alone())
    assert counted == [True, False]


def test_enter_that_opened_a_question_does_not_answer_it() -> None:
    """A key still held when another screen comes is dropped until it has been let go of."""
    presses = Presses(0.8)
    assert presses.note(1.0, "enter", 1)
    assert not presses.note(1.5, "enter", 2)
    assert not presses.note(2.2, "enter", 2)
    assert presses.note(3.1, "enter", 2)


def test_enter_after_typing_answers_at_once() -> None:
    """A key typed between shows that a hand means it."""
    presses = Presses(0.8)
    assert presses.note(1.0, "enter", 1)
    assert presses.note(1.1, "4", 2)
    assert presses.note(1.2, "enter", 2)


def test_key_of_a_closed_question_does_nothing_below() -> None:
    """A key meant for a question that has gone meanwhile runs no action of the screen below."""
    presses = Presses(0.8)
    presses.note(1.0, "enter", 2)
    presses.note(1.001, "enter", 2)
    assert presses.comes_back(1.0, "enter", 2)
    assert not presses.comes_back(1.001, "enter", 1)


def test_of_a_flood_of_keys_one_counts() -> None:
    """All of a thousand presses are noted before the first one's action runs: one is alone at most."""
    presses = Presses(0.8)
    times = [7.0 + number / 1000 for number in range(1000)]
    for time_s in times:
        presses.note(time_s, "space", 1)
    counted = []
    for time_s in times:
        if presses.comes_back(time_s, "space", 1):
            counted.append(presses.latest_is_alone())
    assert sum(counted) <= 1
