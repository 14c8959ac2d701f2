"""Errors drawn true and enlarged match numpy, which applies the formula to the real marks.

A slide X and a table angle a cut at (X, -height error) turned by a, less the eccentricity (derived). A picture with
errors enlarged k times has k times the errors in that formula, with the same settings.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from core.lathe.reader import example_lathe
from core.operations.patterns.effects import WrongPosition
from core.operations.patterns.errors_drawn import LayerSpread, PatternErrors, neighbours, spread_words
from core.operations.patterns.layers import PatternJob
from core.operations.patterns.picture import CutPicture, ErrorsView, PatternPlace
from core.operations.patterns.steps import cuts_on
from tests.core.figures import figures
from tests.core.operations.patterns.made import SHARP, WIDE, job, layer, places

LATHE = example_lathe()
ERRORS = {"height_error_mm": 0.12, "eccentricity_mm": 0.07, "eccentric_at_deg": 35.0}
EVERY_SHAPE = (
    layer(7, 21.3, 4.0, start=10),
    places((5.0, 9.0), (-4.0, 2.0), (0.05, 0.02), shape="dots"),
    layer(3, 30.0, shape="slots", to_offset_mm=36.0),
    layer(2, 40.0, shape="arcs", through=50),
)


def complex_at(cut: CutPicture) -> complex:
    """Return the drawn place of a cut as a complex number."""
    return complex(*cut.at_mm)


def drawn_by_numpy(wanted: PatternJob, factor: float, far: bool) -> tuple[list[complex], list[complex]]:
    """Return the place of each cut and the end of each slot with enlarged errors, by complex numbers."""
    height, eccentric = (
        wanted.height_error_mm,
        wanted.eccentricity_mm * np.exp(1j * np.radians(wanted.eccentric_at_deg)),
    )
    starts, ends = [], []
    for cut in cuts_on(wanted, LATHE):
        place = complex(cut.position.x_mm, cut.position.y_mm)
        is_corrected = wanted.correct and cut.layer.shape != "slots" and abs(place + eccentric) >= abs(height)
        k = 1.0 if is_corrected else factor
        turned = np.exp(1j * np.radians(cut.angle_deg))
        sense = -1 if far else 1
        starts.append(complex(sense * cut.slide_mm, -k * height) * turned - k * eccentric)
        if cut.to_slide_mm is not None:
            ends.append(complex(sense * cut.to_slide_mm, -k * height) * turned - k * eccentric)
    return starts, ends


@pytest.mark.parametrize("far", [False, True])
@pytest.mark.parametrize("correct", [False, True])
@pytest.mark.parametrize("factor", [1, 20])
def test_every_groove_drawn_with_enlarged_errors_lies_at_the_place_calculated_by_numpy(
    factor: int, correct: bool, far: bool
) -> None:
    """Circles, dots, slots and arcs, with real marks.

    An arc runs about the table's axis, which is an enlarged error away.
    """
    wanted = job(*EVERY_SHAPE, is_far=far, **ERRORS)
    drawn = PatternErrors(wanted, LATHE).picture(ErrorsView(factor, correct)).cuts
    starts, ends = drawn_by_numpy(replace(wanted, correct=correct), factor, far)
    assert np.allclose([complex_at(cut) for cut in drawn], starts, atol=1e-9)
    assert np.allclose([complex(*cut.to_mm) for cut in drawn if cut.shape == "line"], ends, atol=1e-9)
    axis = -factor * 0.07 * np.exp(1j * np.radians(35))
    assert np.allclose([complex(*cut.centre_mm) for cut in drawn if cut.shape == "arc"], axis, atol=1e-9)


def test_set_up_errors_that_the_settings_correct_are_not_enlarged_in_the_picture() -> None:
    """Corrected circles are within a mark of their places at any factor. Uncorrected circles are not."""
    wanted = job(layer(12, 25.0, 5.0), **ERRORS)
    places_wanted = 25 * np.exp(2j * np.pi * np.arange(12) / 12)
    errors = PatternErrors(wanted, LATHE)
    for factor in (1, 100):
        cuts = errors.picture(ErrorsView(factor, True)).cuts
        away = np.abs(np.array([complex_at(cut) for cut in cuts]) - places_wanted)
        assert away.max() < 0.03
    cuts = errors.picture(ErrorsView(20, False)).cuts
    away = np.abs(np.array([complex_at(cut) for cut in cuts]) - places_wanted)
    assert away.max() > 20 * (0.12 + 0.07) * 0.7


def test_the_error_of_a_position_cut_in_the_wrong_place_is_enlarged_in_the_picture() -> None:
    """Position 3 of 8 at 25 mm: table 0.5 deg and slide 0.2 mm too far, by hand, at factors 1 and 10."""
    errors = PatternErrors(job(layer(8, 25.0, 5.0)), LATHE, WrongPosition(PatternPlace(1, 3), 0.5, 0.2))
    for factor in (1, 10):
        cuts = errors.picture(ErrorsView(factor)).cuts
        place = (25 + 0.2 * factor) * np.exp(1j * np.radians(90 + 0.5 * factor))
        assert np.isclose(complex_at(cuts[2]), place, atol=1e-9)
        assert [cut.was_moved for cut in cuts] == [False, False, True, *[False] * 5]
        assert np.isclose(complex_at(cuts[3]), 25 * np.exp(1j * np.radians(135)), atol=1e-9)


@pytest.mark.parametrize(
    ("place", "words"),
    [(PatternPlace(1, 9), {"1", "8"}), (PatternPlace(2, 1), {"2", "1"}), (PatternPlace(1, 4), {"4", "1"})],
)
def test_a_request_to_draw_a_skipped_or_unknown_position_as_wrong_is_refused(
    place: PatternPlace, words: set[str]
) -> None:
    """The message names a missing position or layer, or a skipped position. The rest is drawn."""
    wanted = job(layer(8, 25.0, 5.0, skip=frozenset({4})))
    errors = PatternErrors(wanted, LATHE, WrongPosition(place, 1.0))
    assert "Not drawn" in errors.refusal and words <= figures(errors.refusal)
    assert not any(cut.was_moved for cut in errors.picture(ErrorsView(5)).cuts)


def test_groove_widths_and_depths_on_a_face_with_runout_match_hand_calculation() -> None:
    """A 90 deg point, 0.5 mm deep. The face falls 0.05 mm over 80 mm, so 0.0375 mm under a ring of 30 mm.

    Depths are 0.4625 to 0.5 mm, and widths are twice that: 0.925 to 1 mm.
    """
    wanted = job(layer(36, 20.0, 10.0), face_runout_mm=0.05, face_radius_mm=40.0, face_high_at_deg=0.0)
    (spread,) = PatternErrors(wanted, LATHE).spreads(ErrorsView())
    assert spread.depth_mm == pytest.approx((0.4625, 0.5))
    assert spread.width_mm == pytest.approx((0.925, 1.0))


def test_groove_widths_of_a_120_degree_point_on_a_face_with_runout_match_hand_calculation() -> None:
    """120 deg with a flat of 0.2 mm, runout measured at the ring's radius: the width falls by 2 x 0.04 x tan 60 deg."""
    wanted = job(layer(4, 20.0, 10.0, cutter=WIDE), face_runout_mm=0.04, face_radius_mm=30.0, face_high_at_deg=90.0)
    (spread,) = PatternErrors(wanted, LATHE).spreads(ErrorsView())
    widest = 0.2 + 2 * 0.5 * math.sqrt(3)
    assert spread.width_mm == pytest.approx((widest - 2 * 0.04 * math.sqrt(3), widest))


@pytest.mark.parametrize("factor", [1, 8])
def test_the_groove_depth_along_a_circle_on_a_face_with_runout_matches_numpy(factor: int) -> None:
    """A plane is highest at 60 deg. Numpy gives depths all round a circle, enlarged by the factor and never below 0."""
    wanted = job(layer(1, 12.0, 10.0), face_runout_mm=0.1, face_radius_mm=20.0, face_high_at_deg=60.0)
    (cut,) = PatternErrors(wanted, LATHE).picture(ErrorsView(factor)).cuts
    tip = 12 + 10 * np.exp(2j * np.pi * np.arange(72) / 72)
    towards = np.exp(1j * np.radians(60))
    # The face falls 0.1 mm over the 40 mm across which it was read; touched off 22 mm out on its high side.
    fall = factor * 0.1 / 40 * (22 - np.real(tip * np.conj(towards)))
    depths = [cut.depth_at((one.real, one.imag)) for one in tip]
    assert np.allclose(depths, np.maximum(0.5 - fall, 0))
    assert (min(depths) == 0) == (factor == 8)


def test_gaps_between_the_grooves_of_neighbouring_circles_match_numpy() -> None:
    """Six circles of 3 mm at 20 mm, one 0.4 deg too far. Gaps are between edges of grooves 1 mm wide."""
    wrong = WrongPosition(PatternPlace(1, 2), 0.4)
    (spread,) = PatternErrors(job(layer(6, 20.0, 3.0)), LATHE, wrong).spreads(ErrorsView())
    angles = np.radians(60 * np.arange(6) + np.array([0, 0.4, 0, 0, 0, 0]))
    centres = 20 * np.exp(1j * angles)
    gaps = np.abs(centres - np.roll(centres, 1)) - 6 - 1
    assert spread.gap_mm == pytest.approx((gaps.min(), gaps.max()), abs=1e-9)
    crossing = PatternErrors(job(layer(12, 20.0, 10.0)), LATHE).spreads(ErrorsView())[0]
    overlap = 20 + 1 - 40 * math.sin(math.pi / 12)
    assert crossing.gap_mm == pytest.approx((-overlap, -overlap), abs=0.02)
    assert any(f"overlap by {overlap:.3g}" in words for words in spread_words(crossing, lambda mm: f"{mm:.3g}"))


def sampled_gap(one: CutPicture, other: CutPicture) -> float:
    """Return the least distance of two paths, by comparing many sampled points of both."""

    def path(cut: CutPicture) -> np.ndarray:
        share = np.linspace(0, 1, 3001)
        if cut.shape == "line":
            along: np.ndarray = complex_at(cut) + share * (complex(*cut.to_mm) - complex_at(cut))
            return along
        centre = complex(*cut.centre_mm)
        turned: np.ndarray = centre + (complex_at(cut) - centre) * np.exp(1j * np.radians(cut.sweep_deg) * share)
        return turned

    return float(np.abs(path(one)[:, None] - path(other)[None, :]).min())


@pytest.mark.parametrize(
    "layers",
    [
        layer(5, 12.0, shape="slots", to_offset_mm=20.0, cutter=SHARP),
        layer(4, 20.0, shape="arcs", through=40, cutter=SHARP),
        layer(4, 20.0, shape="arcs", through=60, spread=200, offset_step_mm=1.5, cutter=SHARP),
    ],
)
def test_gaps_between_the_grooves_of_slots_and_of_arcs_match_sampled_paths(layers: object) -> None:
    """Slots side by side, arcs end to end and arcs next to each other, with grooves 1 mm wide."""
    wanted = job(layers)  # type: ignore[arg-type]
    errors = PatternErrors(wanted, LATHE)
    cuts = {cut.place.position: cut for cut in errors.picture(ErrorsView()).cuts}
    sampled = [sampled_gap(cuts[one], cuts[other]) - 1 for one, other in neighbours(wanted.layers[0])]
    (spread,) = errors.spreads(ErrorsView())
    assert spread.gap_mm == pytest.approx((min(sampled), max(sampled)), abs=1e-3)


def test_the_suggested_enlargement_of_errors_is_the_largest_that_keeps_the_pattern_recognizable() -> None:
    """The factor moves no groove by more than 6 % of the picture. The next factor would. Without an error it is 1."""
    right = PatternErrors(job(layer(12, 25.0, 5.0)), LATHE)
    assert not right.has_errors and right.sensible_factor(ErrorsView()) == 1
    errors = PatternErrors(job(layer(12, 25.0, 5.0), height_error_mm=0.05), LATHE)
    factor = errors.sensible_factor(ErrorsView())
    assert factor == 20 and 20 * 0.05 <= 0.06 * 30.01 < 50 * 0.05
    assert max(errors.factors(ErrorsView())) * 0.05 <= 15.01
    shallow = PatternErrors(job(layer(12, 25.0, 5.0), face_runout_mm=0.05), LATHE)
    assert shallow.sensible_factor(ErrorsView()) == 5 and 5 * 0.05 <= 0.8 * 0.5 < 10 * 0.05


def test_the_description_of_drawn_errors_states_the_enlargement_and_whether_errors_are_corrected() -> None:
    """The sentences name the factor, the correction, and a missing high side."""
    errors = PatternErrors(job(layer(12, 25.0, 5.0), face_runout_mm=0.02, **ERRORS), LATHE)
    words = errors.words(ErrorsView(20, False))
    assert "enlarged 20 times" in words and "not corrected" in words and "No high side" in words
    assert "true" in errors.words(ErrorsView(1, True)) and "not corrected" not in errors.words(ErrorsView(1, True))


def test_the_list_of_effects_shows_each_layer_with_and_without_correction_of_the_errors() -> None:
    """Two layers have two lines each. Without height error and eccentricity, each has one."""
    two = job(layer(12, 25.0, 5.0), layer(6, 10.0, 2.0), **ERRORS)
    causes = [effect.cause for effect in PatternErrors(two, LATHE).effects()]
    assert len(causes) == 4 and len(set(causes)) == 4
    one_way = job(layer(12, 25.0, 5.0), face_runout_mm=0.05)
    (effect,) = PatternErrors(one_way, LATHE).effects()
    assert {"0.9", "1"} <= figures(effect.amount)


def test_unknown_groove_widths_and_depths_are_absent_from_the_effects() -> None:
    """Without a cutter, gaps are between tip lines and no width is given.

    Without a depth, depth and width are absent.
    """
    spread = PatternErrors(job(layer(6, 20.0, 3.0, cutter=None)), LATHE).spreads(ErrorsView())[0]
    assert spread.width_mm is None and spread.gap_mm == pytest.approx((14, 14), abs=0.02)
    bare = PatternErrors(job(layer(6, 20.0, 3.0, depths_mm=())), LATHE).spreads(ErrorsView())[0]
    assert bare == LayerSpread(1, None, bare.gap_mm, None)
