"""The verdict with its uncertainty, the effect of a move, the effects on the work, and the advice in words."""

from dataclasses import replace
from math import cos, radians, tan
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.lathe.lathe import Chuck, Indicator, Lathe
from core.operations.runout.advice import Advice, advice
from core.operations.runout.analysis import Analysis, analyse
from core.operations.runout.harmonics import evenly_spaced
from core.operations.runout.job import RunoutJob, Surface, Workholding
from core.operations.runout.sets_of_readings import Turn, analyse_set
from core.operations.runout.verdict import change_words, effects_on_work, good_enough_words, groove_change_mm, verdict
from core.values.quantities import mm_text
from tests.core.figures import figures

LATHE = Lathe(name="trial", indicator=Indicator(graduation_mm=0.01))


def job_with(**keys: Any) -> RunoutJob:
    return replace(RunoutJob(angles_deg=evenly_spaced(8), diameter_mm=40), **keys)


def analysed(size: float, high: float, surface: Surface = "outside", graduation: float = 0.01) -> Analysis:
    readings = [size * cos(radians(angle - high)) for angle in evenly_spaced(8)]
    return analyse(readings, evenly_spaced(8), job_with(surface=surface), graduation_mm=graduation)


@pytest.mark.parametrize(
    ("tolerance", "answer"),
    [(0.05, "within"), (0.0383, "within"), (0.038, "cannot be told"), (0.022, "cannot be told"), (0.0217, "outside")],
)
def test_the_verdict_on_the_runout_allows_for_the_uncertainty_of_the_readings(tolerance: float, answer: str) -> None:
    """A TIR of 0.03 read in graduations of 0.01 is uncertain by 2 sqrt 2 x 0.01 / sqrt 12 = 0.0082 (k = 2)."""
    found = verdict([analysed(0.015, 0)], tolerance)
    assert found.uncertainty_mm == pytest.approx(0.00816, abs=5e-6)
    assert found.answer == answer


def test_a_tolerance_smaller_than_the_indicators_graduation_gets_a_remark() -> None:
    """No reading can prove such a tolerance. The sentence gives both numbers."""
    found = verdict([analysed(0.004, 0)], 0.005)
    assert found.answer == "cannot be told"
    assert "0.01" in figures(found.sentence(mm_text))
    assert "graduation" not in verdict([analysed(0.015, 0)], 0.03).sentence(mm_text)


def test_the_verdict_on_two_planes_is_that_of_the_worse_plane() -> None:
    """The larger TIR of two planes counts. A high spot between two marks counts in full."""
    assert verdict([analysed(0.001, 0), analysed(0.1, 0)], 0.05).answer == "outside"
    between = verdict([analysed(0.1, 22.5)], 0.05)
    assert between.tir_mm == pytest.approx(0.2)
    assert "0.2" in figures(between.sentence(mm_text))


@pytest.mark.parametrize(("size", "worse"), [(0.009, False), (0.1, True)])
def test_a_small_runout_of_a_screwed_on_part_is_good_if_no_tolerance_is_given(size: float, worse: bool) -> None:
    """The limit of about 0.02 mm is common practice, no source. A tolerance has precedence."""
    job = job_with(workholding="screwed on")
    assert ("worse" in good_enough_words([analysed(size, 0)], job, mm_text)) == worse
    assert good_enough_words([analysed(size, 0)], job_with(), mm_text) == ""
    assert "Within" in good_enough_words([analysed(size, 0)], replace(job, tolerance_mm=1.0), mm_text)


@pytest.mark.parametrize("surface", ["outside", "bore"])
@pytest.mark.parametrize(
    ("after", "words"),
    [
        ((0.30, 77), "not moved"),
        ((0.001, 190), "runs true"),
        ((0.10, 77), "0.2 mm. Wanted: 0.3 mm"),
        ((0.10, 257), "0.4 mm. Wanted: 0.3 mm"),
        ((0.60, 77), "wrong way"),
        ((0.424264, 32), "sideways"),
        ((0.40, 257), "too far"),
    ],
)
def test_the_message_after_a_correcting_move_compares_the_actual_move_with_the_wanted_move(
    surface: Surface, after: tuple[float, float], words: str
) -> None:
    """Directions are compared, not only amounts. A move sideways is reported too."""
    assert words in change_words(analysed(0.30, 77, surface), analysed(*after, surface), mm_text)


@given(st.floats(0.01, 2), st.floats(20, 150), st.floats(0, 1))
def test_the_change_in_groove_width_follows_from_the_depths_at_the_high_and_low_spots(
    tir: float, tip: float, flat: float
) -> None:
    """Width = flat + 2 depth tan(tip / 2), at the highest and the lowest point."""
    deep, shallow = (flat + 2 * depth * tan(radians(tip) / 2) for depth in (3 + tir, 3))
    assert groove_change_mm(tir, tip) == pytest.approx(deep - shallow)


def test_each_effect_of_runout_on_the_work_is_stated_with_its_size() -> None:
    """Each sentence has its number: the thread's offset, the groove's width, a cutter that leaves the work."""
    lines = effects_on_work(analysed(0.05, 0), mm_text, tip_angle_deg=90, depth_mm=0.04)
    assert "0.05" in figures(lines[0]) and "0.2" in figures(lines[1])
    assert len(lines) == 3
    assert len(effects_on_work(analysed(0.05, 0), mm_text, depth_mm=0.06)) == 1
    face = effects_on_work(analysed(0.02, 0, "face"), mm_text)
    assert figures(face[0]) == {"1", "1000"}


def advised_by(size: float, *, lathe: Lathe = LATHE, lobes: float = 0.0, **keys: Any) -> Advice:
    job = job_with(**keys)
    readings = tuple(size * cos(radians(angle - 77)) + lobes / 2 * cos(2 * radians(angle)) for angle in job.angles_deg)
    turns = [Turn(angles_deg=job.angles_deg, readings_mm=readings, plane=plane) for plane in range(1, job.planes + 1)]
    return advice(analyse_set(job, turns, 0.01), job, lathe)


@pytest.mark.parametrize(
    ("workholding", "words"),
    [
        ("four jaw", {"2", "0.292"}),
        ("flange", {"77°", "0.3"}),
        ("three jaw", {"0.506", "2"}),
        ("screwed on", set()),
        ("between centres", set()),
    ],
)
def test_each_kind_of_workholding_gets_its_own_advice_for_centring_the_work(
    workholding: Workholding, words: set[str]
) -> None:
    """An offset of 0.3 towards 77 by hand: 0.3 sin 77. Under flat faces, jaw 2 gets 0.3 (cos 43 + cos 17)."""
    flat = replace(LATHE, chuck=Chuck(jaw_face="wide"))
    assert any(words <= figures(line) for line in advised_by(0.3, lathe=flat, workholding=workholding).to_do)


def test_the_advice_for_screwed_on_work_lists_the_tasks_in_working_order() -> None:
    """Clean, deburr, seat on the face, refit three times, true in place and mark."""
    said = " ".join(advised_by(0.3, workholding="screwed on").to_do)
    places = [said.index(word) for word in ("Clean thread", "deburr", "Seat", "three times", "true the work")]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("size", "keys", "words"),
    [
        (0.001, {"workholding": "four jaw"}, "too small"),
        (0.3, {}, "workholding"),
        (0.3, {"workholding": "three jaw"}, "narrow jaw"),
        (0.3, {"workholding": "three jaw", "diameter_mm": None}, "Enter the diameter"),
        (0.3, {"workholding": "flange", "surface": "face", "diameter_mm": None}, "Enter the diameter"),
        (30.0, {"workholding": "flange"}, "agree"),
        (0.3, {"workholding": "flange", "tolerance_mm": 1.0}, "mark 77°"),
        (0.3, {"workholding": "flange", "tolerance_mm": 0.05, "lobes": 0.1}, "in place"),
        (0.3, {"workholding": "flange"}, "0.008 mm"),
    ],
)
def test_advice_without_a_correcting_move_gives_the_reason(size: float, keys: dict[str, Any], words: str) -> None:
    """The reason is, for example, the jaws, the form or the size of the offset."""
    assert words in " ".join(advised_by(size, **keys).expect)


@pytest.mark.parametrize("workholding", ["four jaw", "three jaw", "flange", "screwed on", "between centres"])
@pytest.mark.parametrize(
    ("size", "tolerance_mm", "lobes", "words"),
    [
        (0.02, 0.06, 0.0, "needed"),
        (0.006, 0.005, 0.0, "Without any eccentricity"),
        (0.008, 0.05, 0.045, "Without any eccentricity"),
    ],
)
def test_a_correcting_move_that_cannot_change_the_verdict_is_not_advised(
    workholding: Workholding, size: float, tolerance_mm: float, lobes: float, words: str
) -> None:
    """Twice the standard error of a difference of two readings is 2 sqrt 2 0.01 / sqrt 12 = 0.0082 (GUM F.2.2.1).

    0.04 + 0.0082 is below 0.06. 0.012 against 0.005 is uncertain, and 0 + 0.0082 would be too. So is a form of 0.045 +
    0.0082 against 0.05.
    """
    advised = advised_by(size, workholding=workholding, tolerance_mm=tolerance_mm, lobes=lobes)
    assert advised.to_do == ()
    assert words in " ".join(advised.summary)


def test_a_correcting_move_that_changes_the_verdict_is_advised() -> None:
    """0.02 against 0.02 is uncertain. Centred, 0 + 0.0082 is within tolerance."""
    advised = advised_by(0.01, workholding="flange", tolerance_mm=0.02)
    assert {"0.02"} <= figures(advised.summary[1]) and "77°" in figures(advised.to_do[0])


def test_a_move_too_small_to_be_seen_in_the_readings_is_not_advised() -> None:
    """An offset of 0.004 changes the reading by 0.008, less than the 0.0082 needed. 0.006 changes it by 0.012."""
    advised = advised_by(0.004, workholding="flange")
    assert advised.to_do == ()
    assert "smaller than" in " ".join(advised.expect)
    assert advised_by(0.006, workholding="flange").to_do


def test_a_jaw_move_smaller_than_half_a_graduation_is_not_advised() -> None:
    """0.006 towards 77 is 0.0058 along one pair of jaws, 0.0013 along the other.

    Towards 45, it is 0.0042 along both.
    """
    job = job_with(workholding="four jaw")
    found = [
        analyse_set(job, [Turn(angles_deg=job.angles_deg, readings_mm=tuple(readings))], 0.01)
        for readings in ([0.006 * cos(radians(angle - high)) for angle in job.angles_deg] for high in (77, 45))
    ]
    (line,) = advice(found[0], job, replace(LATHE, chuck=Chuck(jaw_lead_mm=4))).to_do
    # 0.0058 mm of 4 mm to the turn.
    assert {"2", "0.006", "0.5°"} <= figures(line)
    assert advice(found[1], job, LATHE).to_do == ()


def test_work_within_tolerance_at_two_planes_gets_no_correcting_moves() -> None:
    """The advice shows the lean of the work, but no moves."""
    job = job_with(workholding="four jaw", planes=2, apart_mm=40.0, tolerance_mm=0.1)
    readings = [tuple(size * cos(radians(angle)) for angle in job.angles_deg) for size in (0.01, 0.03)]
    turns = [Turn(angles_deg=job.angles_deg, readings_mm=turn, plane=plane) for plane, turn in enumerate(readings, 1)]
    advised = advice(analyse_set(job, turns, 0.01), job, LATHE)
    assert advised.to_do == ()
    assert {"0.02", "40"} <= figures(advised.summary[-1]) and "jaws" not in advised.summary[-1]


def test_work_that_runs_true_but_tapers_between_centres_gets_a_tailstock_move() -> None:
    """The bar runs true, but its far end is 0.03 nearer over 150: a taper of 0.06."""
    job = job_with(workholding="between centres", planes=2, apart_mm=150.0, tolerance_mm=0.1)
    turns = [Turn(angles_deg=job.angles_deg, readings_mm=(at,) * 8, plane=plane) for plane, at in ((1, 0.0), (2, 0.03))]
    advised = advice(analyse_set(job, turns, 0.01), job, LATHE)
    assert "0.06" in figures(advised.to_do[-1])


def test_shims_thinner_than_any_in_stock_are_never_advised() -> None:
    """0.1 across the bar needs at most 0.169 under wide jaws. Sheets of 0.5 bring the bar no nearer."""
    lathe = replace(LATHE, shims_mm=(0.5,), chuck=Chuck(jaw_face="wide"))
    advised = advised_by(0.1, lathe=lathe, workholding="three jaw")
    usual = advised_by(0.1, lathe=replace(LATHE, chuck=Chuck(jaw_face="wide")), workholding="three jaw")
    assert not set(advised.to_do) & set(usual.to_do)
    assert len(set(advised.expect) - set(usual.expect)) == 1


def test_if_no_shim_in_stock_is_suitable_the_remaining_runout_is_shown() -> None:
    """With one thick sheet in stock, the advice gives the remaining runout."""
    lathe = replace(LATHE, shims_mm=(0.5,))
    usual = advised_by(0.3, workholding="three jaw").expect
    assert 1 <= len(set(advised_by(0.3, lathe=lathe, workholding="three jaw").expect) - set(usual)) <= 2
