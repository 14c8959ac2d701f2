"""The thread dial, compared with published charts and with simulated half nuts and helix."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.operations.threads.thread_dial import DialUse, nut_stays_closed, thread_dial_uses
from core.values.errors import PlanError
from tests.published import Printed, none_wrong, printed_rows

PRINTED = printed_rows("thread_dial")
INCH = Fraction(254, 10)
SIMULATED_THREADS = 240


def _chart_lines(word: str, lines: int) -> tuple[int, ...]:
    """Return the lines for a word in a chart, counted from the first line used."""
    steps = {"anywhere": 1, "any line": 1, "every 2nd": 2, "opposite": lines // 2, "same line": lines}
    step = steps.get(word)
    return tuple(range(0, lines, step)) if step else ()


@pytest.mark.parametrize("chart", sorted({row.source for row in PRINTED}))
def test_usable_thread_dial_lines_match_published_charts(chart: str) -> None:
    """The charts are for inch threads on inch leadscrews, and for metric threads on metric leadscrews."""
    none_wrong([_difference(row) for row in PRINTED if row.source == chart and _difference(row)])


def _difference(row: Printed) -> str:
    """Return a chart's entry and the program's result as text; "" if they are the same."""
    given_ = row.inputs
    screw = Fraction(given_["screw_mm"]) if "screw_mm" in given_ else INCH / Fraction(given_["screw_tpi"])
    lead = Fraction(given_["lead_mm"]) if "lead_mm" in given_ else INCH / Fraction(str(given_["tpi"]))
    (use,) = thread_dial_uses(lead, screw, ((given_["teeth"], given_["lines"]),))
    same = _chart_lines(row.printed, use.lines) == use.use and (row.printed != "anywhere" or use.anywhere)
    return "" if same else f"{given_}: {row.printed} in {row.source}, here {use}"


def _simulate(lead: Fraction, screw: Fraction, teeth: int, lines: int) -> DialUse:
    """Return the usable lines of a wheel from a simulation with small turns of the leadscrew.

    The simulation notes the lines at which half nuts and helix both fit. It uses no formula: the leadscrew's turns give
    the dial's angle and, through the gears, the spindle's. One step is 1/lines of a turn of the leadscrew, so that
    every line passes at a whole step.
    """
    spindle_turns_per_step = screw / lead / lines
    meets: dict[int, list[bool]] = {line: [] for line in range(lines)}
    anywhere = True
    for step in range(SIMULATED_THREADS * lines + 1):
        nut_goes_in = step % lines == 0
        tool_in_groove = step * spindle_turns_per_step.numerator % spindle_turns_per_step.denominator == 0
        if nut_goes_in and not tool_in_groove:
            anywhere = False
        # A line is at the index mark: 1/lines of a turn of the dial is teeth/lines of a turn of the leadscrew.
        if step % teeth == 0:
            meets[step // teeth % lines].append(nut_goes_in and tool_in_groove)
    use = tuple(line for line, met in meets.items() if all(met))
    return DialUse(teeth=teeth, lines=lines, use=use, anywhere=anywhere)


WHEELS = (
    (14, 2),
    (15, 2),
    (15, 3),
    (15, 4),
    (16, 4),
    (16, 8),
    (18, 6),
    (20, 5),
    (21, 7),
    (22, 11),
    (28, 4),
    (30, 6),
    (30, 8),
    (32, 8),
)


@pytest.mark.parametrize("wheel", WHEELS)
@pytest.mark.parametrize("screw", [Fraction(3), Fraction(4), Fraction(6), INCH / 8, INCH / 4])
def test_usable_thread_dial_lines_match_a_simulation_of_half_nuts_and_helix(
    screw: Fraction, wheel: tuple[int, int]
) -> None:
    """The simulation covers 240 leadscrew threads with metric and inch leads."""
    leads = [Fraction(n, 20) for n in (7, 10, 15, 16, 25, 30, 35, 40, 50, 60, 70, 80, 120)]
    leads += [INCH / Fraction(n) for n in ("4", "4.5", "8", "11.5", "12", "13", "19", "20")]
    for lead in leads:
        (use,) = thread_dial_uses(lead, screw, (wheel,))
        assert use == _simulate(lead, screw, *wheel)


def test_a_mistake_in_a_published_thread_dial_chart_is_not_repeated() -> None:
    """4 to the inch on 8 to the inch: a chart prints "anywhere", but the half nuts can close half a pitch out."""
    (use,) = thread_dial_uses(INCH / 4, INCH / 8, ((16, 8),))
    assert not use.anywhere


def test_a_thread_dial_line_that_falls_between_leadscrew_threads_is_never_used() -> None:
    """Line 1 of 2 on 15 teeth passes at 7 1/2 threads. The half nuts cannot close there, wherever the helix is."""
    (use,) = thread_dial_uses(Fraction(3, 2), Fraction(3), ((15, 2),))
    assert use == DialUse(teeth=15, lines=2, use=(0,), anywhere=True)


def test_no_line_of_a_16_tooth_wheel_suits_a_lead_of_1_5_mm_on_an_8_tpi_leadscrew() -> None:
    """8 to the inch and 1.5 mm meet only after 60 leadscrew threads, so a 60-tooth wheel has one usable line."""
    assert nut_stays_closed(Fraction(3, 2), INCH / 8, ((16, 8),))
    assert not nut_stays_closed(Fraction(127, 100), INCH / 8, ((16, 8),))
    (use,) = thread_dial_uses(Fraction(3, 2), INCH / 8, ((60, 4),))
    assert use.use == (0,)


def test_the_usable_thread_dial_lines_depend_on_the_lead_and_not_on_the_pitch() -> None:
    """On a 3 mm leadscrew, two starts of 1.5 mm (lead 3 mm) suit any line; two starts of 2 mm do not."""
    assert thread_dial_uses(Fraction(3), Fraction(3), ((14, 2),))[0].anywhere
    assert not thread_dial_uses(Fraction(4), Fraction(3), ((14, 2),))[0].anywhere


def test_an_inexact_gear_train_keeps_the_half_nuts_closed() -> None:
    """An inexact train drifts a little with every turn, so it has no usable line."""
    (use,) = thread_dial_uses(Fraction(3, 2), Fraction(3), ((16, 4),), exact=False)
    assert (use.use, use.anywhere) == ((), False)
    assert nut_stays_closed(Fraction(3, 2), Fraction(3), (), exact=False)


def test_without_a_thread_dial_the_half_nuts_may_open_if_every_closing_point_suits() -> None:
    """On a 3 mm leadscrew, every closing point suits a lead of 1.5 mm, but not a lead of 2 mm."""
    assert not nut_stays_closed(Fraction(3, 2), Fraction(3), ())
    assert nut_stays_closed(Fraction(2), Fraction(3), ())


def test_the_thread_dial_wheel_with_the_shortest_wait_is_listed_first() -> None:
    """3.5 mm on 3 mm: 14 teeth suit on any line. 2 mm: 16 teeth wait 4 threads, 14 teeth wait 14."""
    wheels = ((14, 2), (15, 3), (16, 4))
    assert thread_dial_uses(Fraction(7, 2), Fraction(3), wheels)[0].teeth == 14
    assert [use.teeth for use in thread_dial_uses(Fraction(2), Fraction(3), wheels)] == [16, 14, 15]


@given(
    st.fractions(min_value=Fraction(1, 10), max_value=20, max_denominator=40),
    st.fractions(min_value=1, max_value=8, max_denominator=8),
    st.lists(st.tuples(st.integers(4, 60), st.integers(1, 12)), max_size=5),
)
def test_every_thread_dial_wheel_is_listed_once_with_evenly_spaced_lines(
    lead: Fraction, screw: Fraction, wheels: list[tuple[int, int]]
) -> None:
    """Wheels without usable lines come last, and usable lines are counted from 0."""
    uses = thread_dial_uses(lead, screw, tuple(wheels))
    assert sorted(wheels) == sorted((use.teeth, use.lines) for use in uses)
    assert sorted(bool(use.use) for use in uses)[::-1] == [bool(use.use) for use in uses]
    for use in uses:
        if use.use:
            assert tuple(range(0, use.lines, use.lines // len(use.use))) == use.use
        if use.anywhere:
            assert use.use


@pytest.mark.parametrize(
    ("lead", "screw", "wheels", "field"),
    [
        (Fraction(0), Fraction(3), (), "lead"),
        (Fraction(1), Fraction(-3), (), "leadscrew"),
        (Fraction(1), Fraction(3), ((16, 0),), "thread_dial"),
    ],
)
def test_a_thread_dial_value_of_0_or_less_is_refused_at_its_own_field(
    lead: Fraction, screw: Fraction, wheels: tuple[tuple[int, int], ...], field: str
) -> None:
    """The values are lead, leadscrew pitch, teeth and lines."""
    with pytest.raises(PlanError) as refused:
        thread_dial_uses(lead, screw, wheels)
    assert refused.value.field == field
