"""Effects of set-up errors on layers that are not even rings, calculated by hand."""

import math
from fractions import Fraction

import pytest

from core.lathe.reader import example_lathe
from core.operations.patterns.effects import SetUpErrors, layer_depths_mm, outer_mm, set_up_effects
from core.operations.patterns.errors_drawn import PatternErrors
from core.operations.patterns.layers import PatternJob
from tests.core.figures import figures
from tests.core.operations.patterns.made import job, layer, places

LATHE = example_lathe()


def effects(wanted: PatternJob, errors: SetUpErrors | None = None) -> dict[str, str]:
    """Return the amount and meaning of each effect by its cause."""
    found = set_up_effects(wanted, errors or SetUpErrors(), LATHE)
    return {effect.cause: f"{effect.amount}; {effect.meaning}" for effect in found}


def test_the_effects_of_height_and_angle_errors_on_listed_places_match_hand_calculation() -> None:
    """A height error of 0.2 mm, and a minute of arc at the outermost place, 50 mm: 50 pi / 10800 = 0.0145 mm."""
    wanted = job(places((3.0, 4.0), (30.0, 40.0), shape="dots"), height_error_mm=0.2)
    found = effects(wanted, SetUpErrors(position_deg=Fraction(1, 60)))
    assert figures(found["Height 0.2 mm: layer 1"]) == {"0.2"}
    assert figures(found["Position 0°01': layer 1"]) == {"0.015"}
    assert not any(cause.startswith("Tilt") for cause in found)


def test_a_height_error_turns_slots_relative_to_borders() -> None:
    """At 30 and 42 mm, 0.3 mm gives atan(0.3 / 30) less atan(0.3 / 42) = 0.164 deg, which is 0.086 mm at 30 mm."""
    wanted = job(
        layer(12, 30, shape="slots", to_offset_mm=36.0), layer(1, 42, shape="arcs", through=360), height_error_mm=0.3
    )
    found = figures(effects(wanted)["Height 0.3 mm: layers 1, 2"])
    turned = math.degrees(math.atan2(0.3, 30) - math.atan2(0.3, 42))
    assert found == {f"{turned:.3f}", f"{math.radians(turned) * 30:.3f}"}


def test_a_corrected_height_error_is_not_shown_as_an_effect() -> None:
    """The tolerance budget shows the remainder."""
    wanted = job(layer(), height_error_mm=0.3, correct=True)
    assert not any(cause.startswith("Height") for cause in effects(wanted))


def test_an_entered_face_runout_replaces_the_usual_face_runout() -> None:
    """A usual runout is listed while none is entered. An entered runout has its own rows, with widths and depths."""
    assert any(cause.startswith("Face") for cause in effects(job(layer())))
    assert not any(cause.startswith("Face") for cause in effects(job(layer(), face_runout_mm=0.05)))
    spoken = [
        effect.amount + effect.meaning for effect in PatternErrors(job(layer(), face_runout_mm=0.05), LATHE).effects()
    ]
    assert any("wide" in words and "deep" in words for words in spoken)


def test_the_effect_of_tilted_axes_is_given_for_the_largest_circle() -> None:
    """Circles grow by 1 mm from 5 to 10 mm: 2 x 10 mm x sin 0.1 deg = 0.035 mm."""
    found = effects(job(layer(6, 20, 5.0, circle_radius_step_mm=1.0)), SetUpErrors(tilt_deg=0.1))
    assert "0.035" in figures(found["Tilt 0.1 deg: layer 1"])


@pytest.mark.parametrize(
    ("depths", "least", "greatest"), [((0.5,), 0.44, 0.5), ((0.6, 0.3), 0.24, 0.6), ((0.05,), 0.0, 0.05)]
)
def test_the_minimum_depth_allows_for_the_face_runout_at_the_layers_outer_radius(
    depths: tuple[float, ...], least: float, greatest: float
) -> None:
    """A runout of 0.05 mm at 20 mm is 0.06 mm at 24 mm, the outer radius of a ring about another point."""
    wanted = job(layer(4, 10, 4.0, about_mm=(10.0, 0.0), depths_mm=depths), face_runout_mm=0.05, face_radius_mm=20.0)
    assert outer_mm(wanted, wanted.layers[0]) == pytest.approx(24)
    assert layer_depths_mm(wanted, wanted.layers[0]) == pytest.approx((least, greatest))
