"""One turn of readings: worked examples, corrections, uncertainties, and readings that are refused or questioned."""

from collections.abc import Sequence
from math import cos, radians, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.operations.runout.analysis import Analysis, analyse
from core.operations.runout.harmonics import evenly_spaced
from core.operations.runout.job import RunoutJob, Surface, Workholding
from core.operations.runout.readings import reading_mm
from core.operations.runout.remarks import questions, remarks
from core.values.errors import PlanError, QuantityError
from core.values.quantities import mm_text
from tests.core.figures import figures
from tests.core.operations.runout.runout_bars import Bar, first_harmonic, limacon
from tests.published import Printed, printed_rows

GRADUATION_MM = 0.01


def _analyse(
    readings: list[float] | tuple[float, ...],
    *,
    angles: tuple[float, ...] | None = None,
    surface: Surface = "outside",
    diameter: float | None = None,
    stylus: float = 0.0,
    workholding: Workholding | None = None,
    graduation: float = GRADUATION_MM,
    drift: float = 0.0,
    again: Sequence[list[float]] = (),
) -> Analysis:
    marks = angles or evenly_spaced(len(readings))
    job = RunoutJob(surface=surface, angles_deg=marks, diameter_mm=diameter, stylus_deg=stylus, workholding=workholding)
    return analyse(
        readings, marks, job, graduation_mm=graduation, drift_mm=drift, again=[(more, 0.0) for more in again]
    )


def _said(readings: list[float], **given_: float) -> str:
    found = _analyse(readings, **given_)  # type: ignore[arg-type]
    job = RunoutJob(surface="outside", angles_deg=found.angles_deg, diameter_mm=given_.get("diameter"))
    return " ".join((*questions(found, job, mm_text), *remarks(found, job, mm_text)))


def _wave(count: int, order: int, size: float = 0.05, high: float = 11.0) -> list[float]:
    return [size * cos(order * radians(angle - high)) for angle in evenly_spaced(count)]


def test_the_offset_calculated_from_four_readings_matches_hand_calculation() -> None:
    """0.10 0.02 -0.06 0.04: a = (0.10 + 0.06)/2, b = (0.02 - 0.04)/2. The TIR is less than twice the offset."""
    found = _analyse([0.10, 0.02, -0.06, 0.04])
    assert found.eccentricity_mm == pytest.approx(sqrt(0.08**2 + 0.01**2))
    assert found.high_spot_deg == pytest.approx(360 - 7.125, abs=0.001)
    assert found.tir_mm == pytest.approx(0.16)
    assert found.tir_mm < 2 * found.eccentricity_mm


def test_readings_corrected_for_drift_match_hand_calculation() -> None:
    """0 0.05 0.10 0.05, closing at 0.02: reading i of N loses its share i/N of the drift."""
    found = _analyse([0, 0.05, 0.10, 0.05], drift=0.02)
    assert found.readings_mm == pytest.approx((0, 0.045, 0.09, 0.035))
    assert found.drift_mm == 0.02


@pytest.mark.parametrize("count", [4, 6, 8, 12, 24])
def test_correcting_for_drift_removes_the_false_offset_caused_by_drift(count: int) -> None:
    """A true part under a drifting indicator: an offset of d / (N sin(pi/N)) before the correction, none after."""
    readings = [0.02 * i / count for i in range(count)]
    faked = 0.02 / (count * np.sin(np.pi / count))
    assert _analyse(readings).eccentricity_mm == pytest.approx(faked)
    assert _analyse(readings, drift=0.02).eccentricity_mm == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(
    ("drift", "word"), [(0.02, ""), (-0.02, ""), (0.03, "closing reading"), (-0.05, "closing reading")]
)
def test_a_drift_of_more_than_two_graduations_gets_a_remark(drift: float, word: str) -> None:
    """A drift of up to two graduations gives no remark, and one of up to five gives one."""
    assert ("closing reading" in _said(_wave(8, 1), drift=drift)) is bool(word)


@pytest.mark.parametrize("drift", [0.06, -0.2, 5.0, float("nan"), float("inf")])
def test_a_drift_that_shows_a_slipped_indicator_is_refused(drift: float) -> None:
    """A drift of more than five graduations is refused with field, number and what to do."""
    with pytest.raises(PlanError) as caught:
        _analyse(_wave(8, 1), drift=drift)
    assert caught.value.field == "drift"


def test_roundness_is_measured_from_the_least_squares_circle() -> None:
    """With one high reading of six, the circle takes 1/6 + 2/6 of it at this mark and -1/6 opposite. 5/6 remain."""
    found = _analyse([1, 0, 0, 0, 0, 0], graduation=0.1)
    assert found.out_of_roundness_mm == pytest.approx(5 / 6)


def test_the_roundness_calculated_from_four_readings_matches_the_formula() -> None:
    """The roundness is |r0 - r1 + r2 - r3| / 2. Three readings show no roundness."""
    found = _analyse([0.31, 0.02, -0.17, 0.05])
    assert found.out_of_roundness_mm == pytest.approx(abs(0.31 - 0.02 - 0.17 - 0.05) / 2)
    assert found.oval is None
    assert _analyse([0.31, 0.02, -0.17]).out_of_roundness_mm is None


@pytest.mark.parametrize("count", [8, 12, 24, 37])
@pytest.mark.parametrize("high", [0.0, 13.0, 77.0])
def test_lobes_and_offset_in_the_same_readings_are_calculated_separately(count: int, high: float) -> None:
    """Offset, oval and three lobes in the same readings are each found with their marks."""
    readings = [
        0.2 * cos(radians(angle - 200)) + 0.03 * cos(2 * radians(angle - high)) + 0.01 * cos(3 * radians(angle - high))
        for angle in evenly_spaced(count)
    ]
    found = _analyse(readings)
    assert found.oval is not None
    assert found.three_lobes is not None
    assert (found.eccentricity_mm, found.high_spot_deg) == pytest.approx((0.2, 200))
    assert (found.oval.height_mm, found.three_lobes.height_mm) == pytest.approx((0.06, 0.02))
    assert abs(found.oval.high_deg - high) % 180 == pytest.approx(0, abs=1e-6)
    assert abs(found.three_lobes.high_deg - high) % 120 == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(("count", "error"), [(4, 0.00204), (6, 0.00167), (8, 0.00144), (12, 0.00118)])
def test_the_standard_error_of_eccentricity_matches_hand_calculation(count: int, error: float) -> None:
    """A graduation of 0.01 gives u = 0.01 / sqrt 12 for a reading (GUM F.2.2.1), and u sqrt(2/N) for the offset."""
    found = _analyse(_wave(count, 1))
    assert found.eccentricity_error_mm == pytest.approx(error, abs=5e-6)
    assert found.high_spot_error_deg == pytest.approx(np.degrees(found.eccentricity_error_mm / 0.05))


def test_standard_errors_at_unevenly_spaced_marks_match_numpy() -> None:
    """Eight marks within a third of the turn have numpy's covariance, many times the error at even marks."""
    angles = tuple(float(angle) for angle in range(0, 120, 15))
    readings = [0.05 * cos(radians(angle - 30)) for angle in angles]
    design = np.column_stack([np.ones(8), np.cos(np.radians(angles)), np.sin(np.radians(angles))])
    covariance = np.linalg.inv(design.T @ design)[1:, 1:]
    directions = np.array([cos(radians(30)), cos(radians(60))])
    wanted = GRADUATION_MM / sqrt(12) * sqrt(directions @ covariance @ directions)
    assert _analyse(readings, angles=angles).eccentricity_error_mm == pytest.approx(wanted)
    assert wanted > 3 * 0.00144


@pytest.mark.parametrize("row", [row for row in printed_rows("runout") if row.quantity == "lever cosine"])
def test_the_cosine_of_a_levers_angle_matches_the_published_factor(row: Printed) -> None:
    """A lever indicator's reading is multiplied by the printed factor."""
    high = row.inputs["reading"]
    found = _analyse([high, 0, 0, 0], stylus=row.inputs["angle_deg"])
    assert found.tir_mm == pytest.approx(float(row.printed), abs=row.tolerance)


def test_the_angle_of_a_lever_scales_measured_sizes_but_not_directions() -> None:
    """Eccentricity and its error follow the cosine. The high spot does not change."""
    straight, leaning = _analyse(_wave(8, 1)), _analyse(_wave(8, 1), stylus=60)
    assert leaning.eccentricity_mm == pytest.approx(straight.eccentricity_mm / 2)
    assert leaning.eccentricity_error_mm == pytest.approx(straight.eccentricity_error_mm / 2)
    assert leaning.high_spot_deg == pytest.approx(straight.high_spot_deg)


def test_the_standard_error_of_a_reading_is_the_graduation_divided_by_the_square_root_of_12() -> None:
    """A value anywhere within a graduation is equally likely, so its deviation is 0.29 graduations (GUM F.2.2.1)."""
    found = _analyse(_wave(8, 1), graduation=0.02)
    assert found.graduation_error_mm / 0.02 == pytest.approx(1 / sqrt(12))


def test_the_standard_error_of_a_turn_read_twice_comes_from_the_scatter_of_the_readings() -> None:
    """The measured scatter counts if it is larger than that of the graduation. A shifted zero has no effect."""
    first = _wave(8, 1)
    scatter = [0.03, -0.03, 0.03, -0.03, 0.03, -0.03, 0.03, -0.03]
    shifted = _analyse(first, again=[[reading + 0.4 for reading in first]])
    assert shifted.repeatability_mm == pytest.approx(0, abs=1e-12)
    assert shifted.error_mm == shifted.eccentricity_error_mm
    found = _analyse(first, again=[[reading + more for reading, more in zip(first, scatter, strict=True)]])
    # Eight pairs that differ by 0.03 in either direction: s = sqrt(8 x 0.03² / (2 x 7)).
    assert found.repeatability_mm == pytest.approx(sqrt(8 * 0.03**2 / 14))
    assert found.error_mm == pytest.approx(sqrt(8 * 0.03**2 / 14 / 2) * sqrt(2 / 8))
    assert found.eccentricity_error_mm == pytest.approx(0.00144, abs=5e-6)
    assert found.eccentricity_mm == pytest.approx(0.05)


def test_the_repeatability_of_many_pairs_of_readings_matches_their_scatter() -> None:
    """Many pairs of readings scattered by 0.02 give 0.02."""
    random = np.random.default_rng(3)
    first, again = random.normal(0, 0.02, (2, 300))
    found = _analyse(list(first), again=[list(again)])
    assert found.repeatability_mm == pytest.approx(0.02, rel=0.1)


@pytest.mark.parametrize("surface", ["outside", "bore"])
@pytest.mark.parametrize("angles", [evenly_spaced(12), evenly_spaced(3), (0.0, 20.0, 75.0, 130.0, 200.0, 310.0)])
def test_a_large_offset_does_not_make_round_work_appear_oval(surface: Surface, angles: tuple[float, ...]) -> None:
    """A true circle of radius 25 off by 1 reads oval by 0.02. This is subtracted, and the offset is exact."""
    sense = -1 if surface == "bore" else 1
    readings = [sense * limacon(angle, 1.0, 33.0, 25.0) for angle in angles]
    assert readings == pytest.approx(Bar((cos(radians(33)), cos(radians(57))), 25.0).readings(angles, surface))
    found = _analyse(readings, angles=angles, surface=surface, diameter=50)
    assert found.eccentricity_mm == pytest.approx(1, abs=1e-9)
    assert found.work_centre_mm == pytest.approx((cos(radians(33)), cos(radians(57))), abs=1e-9)
    assert found.out_of_roundness_mm is None or found.out_of_roundness_mm < 1e-9
    left_in = _analyse(readings, angles=angles, surface=surface)
    if left_in.oval and len(angles) == 12:
        # e² / 4R in either direction: 0.010 for an offset of 1 on a radius of 25.
        assert left_in.oval.height_mm / 2 == pytest.approx(0.010, abs=0.0001)


def test_a_small_offset_is_calculated_without_the_correction_for_large_offsets() -> None:
    """If the effect of the offset is below the graduation, the figures are those of the plain fit."""
    readings = [limacon(angle, 0.2, 33.0, 25.0) for angle in evenly_spaced(8)]
    assert _analyse(readings, diameter=50).oval == _analyse(readings).oval


@pytest.mark.parametrize("surface", ["outside", "bore"])
@pytest.mark.parametrize("high", [20.0, 110.0, 200.0, 290.0])
def test_the_centre_of_simulated_work_is_found_from_outside_or_bore_readings(surface: Surface, high: float) -> None:
    """The middle of simulated work is found, on whichever side the indicator touches."""
    middle = (0.3 * cos(radians(high)), 0.3 * cos(radians(high - 90)))
    found = _analyse(Bar(middle, 20).readings(evenly_spaced(8), surface), surface=surface)
    assert found.work_centre_mm == pytest.approx(middle, abs=1e-6)
    wanted = high if surface == "outside" else (high + 180) % 360
    assert found.high_spot_deg == pytest.approx(wanted, abs=1e-6)


@given(st.integers(4, 24), st.floats(0.02, 1), st.floats(1, 359), st.floats(-2, 2))
def test_the_eccentricity_matches_the_fourier_transform_by_numpy(
    count: int, size: float, high: float, zero: float
) -> None:
    """The eccentricity is the first bin of numpy's transform, whatever the indicator's zero is."""
    readings = [zero + size * cos(radians(a - high)) + 0.01 * cos(3 * radians(a)) for a in evenly_spaced(count)]
    amplitude, _ = first_harmonic(readings)
    found = _analyse(readings)
    assert found.eccentricity_mm == pytest.approx(amplitude, abs=1e-9)
    assert found.tir_mm == max(readings) - min(readings)


@pytest.mark.parametrize(
    ("count", "words", "silent"),
    [
        (3, "an oval", "never"),
        (4, "a three-lobed", "an oval"),
        (5, "a four-lobed", "an oval"),
        (6, "a five-lobed", "a three-lobed"),
    ],
)
def test_shapes_of_work_that_look_like_eccentricity_are_named_in_a_remark(count: int, words: str, silent: str) -> None:
    """The remarks name exactly the forms that appear as eccentricity by the sampling theorem."""
    said = _said(_wave(count, 1))
    assert words in said and silent not in said


@pytest.mark.parametrize("count", [8, 12, 24])
def test_eight_or_more_readings_of_round_work_get_no_remark(count: int) -> None:
    """A round part is read at eight marks and more."""
    assert _said(_wave(count, 1)) == ""


def test_with_four_readings_three_lobes_appear_as_eccentricity() -> None:
    """A true part with three lobes seems eccentric by their whole height."""
    assert _analyse(_wave(4, 3)).eccentricity_mm == pytest.approx(0.05)
    assert _analyse(_wave(8, 3)).eccentricity_mm == pytest.approx(0, abs=1e-12)


def test_with_six_readings_four_lobes_appear_as_an_oval() -> None:
    """The remark appears only if the part looks oval."""
    assert "four-lobed" in _said(_wave(6, 2)) and "four-lobed" not in _said(_wave(6, 1))


def test_an_offset_too_small_for_the_indicator_gets_a_remark() -> None:
    """The limit is twice its standard error: 0.0029 for eight readings of 0.01."""
    assert _analyse(_wave(8, 1, size=0.0028)).below_indicator and "below" in _said(_wave(8, 1, size=0.0028))
    assert not _analyse(_wave(8, 1, size=0.003)).below_indicator and "below" not in _said(_wave(8, 1, size=0.003))
    assert _analyse(_wave(8, 1, size=0.0028)).high_spot_error_deg is None


@pytest.mark.parametrize(
    ("readings", "angles", "message"),
    [
        ([0.0, 0.1], None, "2.*3"),
        ([], None, "0"),
        ([0.0, 0.1, 0.0], (0.0, 90.0, 90.0), "90°"),
        ([0.0, 0.1, 0.0, 0.1], (0.0, 120.0, 240.0, 360.0), "360°"),
        ([0.0, 0.1, 0.0], (0.0, 4.0, 8.0), "close"),
        ([0.0, 0.1, 0.0, 0.1], (0.0, 120.0, 240.0), "4.*3"),
        ([0.0, float("nan"), 0.0], None, "2.*nan"),
        ([0.0, float("inf"), 0.0], None, "2.*inf"),
    ],
)
def test_unusable_readings_or_marks_are_refused_with_the_reason(
    readings: list[float], angles: tuple[float, ...] | None, message: str
) -> None:
    """Each refusal names what is wrong."""
    marks = evenly_spaced(len(readings)) if angles is None else angles
    with pytest.raises(PlanError, match=message):
        analyse(readings, marks, RunoutJob(angles_deg=marks), graduation_mm=0.01)


def test_a_reading_with_a_missing_decimal_point_is_queried() -> None:
    """A reading a thousand times the others gives a question. The figures are calculated all the same."""
    readings = [0.02, 0.03, 30.0, 0.01, -0.01, 0.0, 0.02, 0.01]
    found = _analyse(readings, diameter=60)
    assert found.suspects == (2,)
    assert "30 mm at 90°" in _said(readings)
    assert "typing error" in _said(readings)
    assert found.readings_mm == pytest.approx(readings)


@given(st.integers(4, 24), st.integers(1, 3), st.floats(0, 5), st.floats(0, 359))
def test_ordinary_runout_is_not_queried_as_a_typing_error(count: int, order: int, size: float, high: float) -> None:
    """No question appears, however large the offset or the lobes are, and wherever they are."""
    assert _analyse(_wave(count, order, size, high)).suspects == ()


def test_an_offset_larger_than_the_radius_of_the_work_is_queried_but_not_refused() -> None:
    """The offset is not refused."""
    readings = [50 * cos(radians(angle - 10)) for angle in evenly_spaced(8)]
    assert _analyse(readings, diameter=60).larger_than_work
    assert "60" in figures(_said(readings, diameter=60))


def test_the_wobble_of_a_face_matches_the_formula() -> None:
    """The wobble is atan of the once-a-turn part divided by the radius of the readings."""
    found = _analyse(_wave(8, 1, size=0.1), surface="face", diameter=60)
    assert found.wobble_deg == pytest.approx(np.degrees(np.arctan(0.1 / 30)))
    assert _analyse(_wave(8, 1), surface="face").wobble_deg is None


@pytest.mark.parametrize(
    ("text", "unit", "wanted"),
    [
        ("3", "marks", 0.03),
        ("-2.5", "marks", -0.025),
        ("0,12", "mm", 0.12),
        ("-4", "thou", -0.1016),
        ("0.001", "in", 0.0254),
        ("2 thou", "mm", 0.0508),
        ("0.05 mm", "marks", 0.05),
    ],
)
def test_readings_entered_without_a_unit_are_taken_in_the_chosen_unit(text: str, unit: str, wanted: float) -> None:
    """A reading with a unit of its own keeps that unit."""
    assert reading_mm(text, unit, 0.01) == pytest.approx(wanted)


@pytest.mark.parametrize(("text", "unit"), [("", "mm"), ("high", "mm"), ("nan", "mm"), ("3 mil", "mm"), ("3", "ell")])
def test_an_unreadable_reading_is_refused(text: str, unit: str) -> None:
    """Text, an empty entry and an ambiguous unit are each refused with a sentence."""
    with pytest.raises(QuantityError):
        reading_mm(text, unit, 0.01)
