"""Advice on dials: it names the fault of a faulty simulated lathe, and is silent for a sound one."""

from fractions import Fraction

import numpy as np
import pytest

from core.record.advice import advice, growth
from core.record.lathe_record import DialRecord, Period
from core.record.observations import CutKind, DialDifference
from tests.core.record.simulated_lathe import described

LATHE = described()
CUT = CutKind("cross_slide", "turn")


def measurements(
    rng: np.random.Generator,
    count: int,
    *,
    ratio: float = 1.0,
    drift_mm: float = 0.0,
    offset_mm: float = 0.0,
    noise_mm: float = 0.004,
    least_mm: float = 0.2,
) -> tuple[DialDifference, ...]:
    """Return the measurements of a lathe with this true ratio.

    Every other one follows a touch-off with its own error.
    """
    made = []
    for number in range(count):
        touched = number % 2 == 0
        travel_mm = rng.uniform(least_mm, 4.0 if touched else least_mm + 0.4)
        off_mm = rng.normal(0.02, noise_mm) if touched else rng.normal(0, noise_mm / 2)
        difference_mm = travel_mm * (ratio - 1) + off_mm + offset_mm + drift_mm * number / (count - 1)
        wall = f"2026-{1 + number // 28 % 12:02}-{1 + number % 28:02}T10:00:00+00:00"
        made.append(DialDifference(CUT, wall, difference_mm, travel_mm, touched, Fraction(1, 2)))
    return tuple(made)


def said(differences: tuple[DialDifference, ...], lathe: object = LATHE) -> str:
    """Return the advice on these measurements."""
    return " ".join(advice(DialRecord(CUT, (Period(None, differences),), 0), lathe))  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(
    ("ratio", "words"),
    [(2.0, "fit reads"), (0.5, "per_turn"), (1.016, "inch screw"), (1 / 1.016, "metric screw"), (1.05, "per_turn")],
)
def test_advice_on_a_wrongly_described_dial_states_the_true_ratio_of_travel_to_reading(
    seed: int, ratio: float, words: str
) -> None:
    """Twice and half come from a wrong sense, 1.016 from 2.54 mm for 2.5 mm.

    The named ratio is the true one within 1 %.
    """
    rng = np.random.default_rng(seed)
    sentence = said(measurements(rng, 30, ratio=ratio))
    assert words in sentence
    named = float(sentence.partition("moves ")[2].partition(" times")[0])
    assert named == pytest.approx(ratio, rel=0.01)


def test_advice_states_a_ratio_near_one_half_without_rounding_the_ratio_to_one_half() -> None:
    """cos 61 / cos 29 = 0.554 comes from a compound set by the wrong zero of its scale."""
    ratio = np.cos(np.radians(61)) / np.cos(np.radians(29))
    assert "0.55" in said(measurements(np.random.default_rng(1), 40, ratio=float(ratio)))


def test_a_dial_wrongly_described_as_reading_diameter_is_recognized_from_equal_cuts() -> None:
    """The same finishing cut is repeated, so no line can be fitted. Half the travel is still plain."""
    rng = np.random.default_rng(1)
    alike = tuple(
        DialDifference(CUT, "2026-01-01T10:00:00+00:00", -0.15 + rng.normal(0, 0.004), 0.3, False, Fraction(1, 2))
        for _ in range(8)
    )
    assert "0.5 times" in said(alike)


@pytest.mark.parametrize("seed", range(6))
def test_advice_on_drifting_measurements_states_the_size_of_the_drift(seed: int) -> None:
    """The drift is 0.03 mm from the first measurement to the last. The named size is within a third of that."""
    sentence = said(measurements(np.random.default_rng(seed), 24, drift_mm=0.03))
    assert "drift" in sentence and "2026-01-01 to 2026-01-24" in sentence
    named = float(sentence.partition("about ")[2].partition(" mm")[0])
    assert named == pytest.approx(0.03, abs=0.01)


@pytest.mark.parametrize(
    "differences_mm",
    [
        [0.02 + number * 1e-15 for number in range(8)],
        [0.0] * 4 + [0.01] * 4,
    ],
)
def test_a_drift_of_less_than_one_dial_mark_gets_no_advice(differences_mm: list[float]) -> None:
    """Equal differences that differ by floating-point noise do not drift. One mark of this dial is 0.02 mm."""
    alike = tuple(
        DialDifference(CUT, f"2026-01-{1 + day:02}T10:00:00+00:00", difference_mm, 0.3, False, Fraction(1, 2))
        for day, difference_mm in enumerate(differences_mm)
    )
    assert said(alike) == ""


def test_a_correctly_described_lathe_gets_no_advice() -> None:
    """Of 400 sound lathes with random offsets and errors, at most one in twenty gets advice: two tests at 1 % each."""
    rng = np.random.default_rng(11)
    told = [
        said(
            measurements(
                rng, int(rng.integers(6, 40)), offset_mm=rng.normal(0, 0.03), noise_mm=rng.uniform(0.001, 0.01)
            )
        )
        for _ in range(400)
    ]
    assert sum(map(bool, told)) <= 20


def test_fewer_than_six_measurements_give_no_advice() -> None:
    """Five measurements come from a dial that moves half as far as it says."""
    assert said(measurements(np.random.default_rng(2), 5, ratio=0.5)) == ""


def test_the_growth_of_dial_differences_with_travel_equals_numpys_least_squares_slope() -> None:
    """numpy computes the growth, with one offset for measurements after a touch-off and another for the rest."""
    some = measurements(np.random.default_rng(3), 20, ratio=1.02)
    touched = np.array([one.after_touch_off for one in some], dtype=float)
    design = np.column_stack([[one.travel_mm or 0.0 for one in some], touched, 1 - touched])
    fitted = np.linalg.lstsq(design, np.array([one.difference_mm for one in some]), rcond=None)[0]
    slope = growth(some)
    assert slope is not None and slope.slope == pytest.approx(fitted[0])


def test_advice_on_a_dial_with_a_lead_in_the_lathe_file_names_the_key_of_that_lead() -> None:
    """The lead decides the travel of such a dial, so the advice names the key of the lead."""
    assert "lead" in said(measurements(np.random.default_rng(4), 20, ratio=2.0), described(lead="2 mm"))
