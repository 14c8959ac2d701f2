"""Cautions of a pattern, each once per layer, with numbers calculated by hand."""

import math
from dataclasses import replace
from typing import Any

import pytest

from core.lathe.lathe import Cutter
from core.lathe.reader import example_lathe
from core.operations.patterns.layers import Layer
from tests.core.figures import figures
from tests.core.operations.patterns.divided import cautions_of
from tests.core.operations.patterns.made import SHARP, WIDE, job, layer, places

LATHE = example_lathe()


def said(words: str, *layers: Layer, lathe: Any = LATHE, **keys: Any) -> list[str]:
    """Return the cautions of a job that contain certain words."""
    return [caution for caution in cautions_of(job(*layers, **keys), lathe) if words in caution]


def test_a_caution_says_how_far_a_layer_runs_off_the_blank() -> None:
    """Dots 1 mm wide at 44.8 mm on a 90 mm blank run 0.3 mm over the edge. A ring about another point reaches 47 mm."""
    dots = layer(4, 44.8, shape="dots")
    beside = layer(4, 20, 8.0, about_mm=(18.5, 0.0))
    off = said("off the blank", dots, beside, blank_diameter_mm=90.0)
    assert [figures(caution) for caution in off] == [{"1", "0.3", "45.3"}, {"2", "47"}]
    assert said("off the blank", layer(4, 44.4, shape="dots"), blank_diameter_mm=90.0) == []


def test_a_groove_wider_than_its_circle_gets_a_caution_with_groove_width_and_circle_diameter() -> None:
    """Circles that shrink from 2 mm by 0.4 mm: the fifth is 0.8 mm across, the groove 1 mm wide."""
    (caution,) = said("nothing remains", layer(6, 20, 2.0, circle_radius_step_mm=-0.4, spread=90))
    assert {"1", "5", "0.8"} <= figures(caution)


@pytest.mark.parametrize(
    ("one", "land"),
    [
        # 2 x 20 sin 15 deg = 10.353 mm apart: less 2 x 4.5 and the groove's 1 mm leaves 0.353 mm.
        (layer(12, 20, 4.5), "0.353"),
        # Dots of 1 mm at 1.4 mm.
        (places((3.0, 4.0), (4.4, 4.0), (30.0, 0.0), shape="dots"), "0.4"),
        # Slots from 2 mm: 4 sin 20 deg apart at their inner ends, less 1 mm.
        (layer(9, 2, shape="slots", to_offset_mm=8.0), "0.368"),
        # Three rings about other points, each like the first ring.
        (layer(12, 20, 4.5, repeat=3, repeat_offset_mm=30.0), "0.353"),
    ],
)
def test_thin_land_between_neighbouring_grooves_gets_a_caution(one: Layer, land: str) -> None:
    """Land of less than half a millimetre may break out."""
    (caution,) = said("break out", one)
    assert figures(caution) == {"1", land}


def test_land_wider_than_half_a_millimetre_gets_no_caution() -> None:
    """Land of 0.553 mm, touching grooves and overlapping grooves get no caution."""
    spacing = 40 * math.sin(math.radians(15))
    for radius in (4.4, (spacing - 1) / 2, 6.0):
        assert said("break out", layer(12, 20, radius)) == []


def test_thin_land_between_two_rings_gets_a_caution() -> None:
    """A border of 25.4 mm radius and circles that reach 24 mm: 1.4 mm less two half grooves of 1 mm."""
    (caution,) = said("break out", layer(4, 20, 4.0), layer(1, 0, 25.4))
    assert figures(caution) == {"1", "2", "0.4"}
    # The same ring about another point.
    (beside,) = said("break out", layer(4, 20, 4.0, about_mm=(3.0, 0.0)), places((3.0, 0.0), circle_radius_mm=25.4))
    assert figures(beside) == {"1", "2", "0.4"}


def test_a_caution_gives_the_depth_from_which_a_hidden_layer_becomes_visible() -> None:
    """A groove 0.3 mm deep along a groove 0.5 mm deep is visible from 0.51 mm."""
    (caution,) = said("is hidden", layer(6, 20, 8.0, cutter=WIDE), layer(6, 20, 8.0, depths_mm=(0.3,)))
    assert figures(caution) == {"2", "0.51"}


def test_a_groove_depth_close_to_the_cutters_reach_gets_a_caution() -> None:
    """A depth of 1.8 mm is close to the cutter's reach of 2 mm."""
    short = Cutter("short", 60, reach_mm=2.0)
    (caution,) = said("shank", layer(depths_mm=(1.8,), cutter=short), layer(depths_mm=(1.5,), cutter=short))
    assert figures(caution) == {"1", "1.8", "2"}


def test_a_blank_that_fouls_or_nearly_fouls_the_bed_gets_a_caution() -> None:
    """At a centre height of 110 mm, a 180 mm blank clears the bed by 20 mm, 230 mm fouls, and 160 mm is clear."""
    lathe = replace(LATHE, centre_height_mm=110.0)
    (near,) = said("bed", layer(), lathe=lathe, blank_diameter_mm=180.0)
    (fouls,) = said("bed", layer(), lathe=lathe, blank_diameter_mm=230.0)
    assert (figures(near), figures(fouls)) == ({"20"}, {"115", "110"})
    assert said("bed", layer(), lathe=lathe, blank_diameter_mm=160.0) == []


def test_a_caution_gives_the_size_of_an_error_that_the_settings_cannot_correct() -> None:
    """A height error of 0.3 mm moves a dot 0.2 mm from the axis, and slots. By hand.

    With the axis 0.3 mm too high, the dot set to (0.2, 0) is cut at (0.2, -0.3). A slot at any angle is cut 0.3 mm to
    one side of its place.
    """
    dots = places((0.2, 0.0), (20.0, 0.0), shape="dots")
    slots = layer(4, 30, shape="slots", to_offset_mm=36.0)
    near, beside = said("annot correct", dots, slots, height_error_mm=0.3, correct=True)
    assert figures(near) == {"1", "0.3"} and "position 1 is" in near
    assert figures(beside) == {"2", "0.3"}
    assert said("annot correct", places((20.0, 0.0), shape="dots"), height_error_mm=0.3, correct=True) == []


def test_cautions_say_that_the_settings_correct_neither_arcs_nor_face_runout() -> None:
    """Arcs run about the table's axis, and no setting makes a face run true."""
    border = layer(1, 42, shape="arcs", through=360)
    keys: dict[str, Any] = {"eccentricity_mm": 0.15, "correct": True, "face_runout_mm": 0.05}
    (arcs,) = said("arcs run", border, **keys)
    (runout,) = said("runout of the face", border, **keys)
    assert (figures(arcs), figures(runout)) == ({"1", "0.15"}, {"0.05"})


def test_a_corrected_height_error_gets_no_caution() -> None:
    """Two rings would turn against each other under an uncorrected height error."""
    rings = layer(12, 14, 3.0), layer(12, 30, 5.0)
    assert len(said("height error", *rings, height_error_mm=0.3)) == 1
    assert said("height error", *rings, height_error_mm=0.3, correct=True) == []


def test_an_uncorrected_eccentricity_or_height_error_gets_a_caution() -> None:
    """The height error moves each position of a ring about another point."""
    beside = layer(5, 6, 2.0, about_mm=(20.0, 0.0))
    (moved,) = said("height error", beside, height_error_mm=-0.25)
    assert figures(moved) == {"1", "0.25"}
    (eccentric,) = said("off the work's centre", beside, eccentricity_mm=0.12)
    assert figures(eccentric) == {"0.12"}


def test_grooves_shallower_than_the_face_runout_get_a_caution() -> None:
    """The depths are 0.6 and 0.1 mm, and the face runs out by 0.2 mm."""
    (uncut,) = said("uncut", layer(6, 20, 5.0, depths_mm=(0.6, 0.1), cutter=SHARP), face_runout_mm=0.2)
    assert figures(uncut) == {"1", "0.2", "0.1"}


def test_a_shift_of_listed_places_caused_by_rounding_to_dial_marks_gets_a_caution() -> None:
    """Marks of half a minute give errors of up to a quarter of a minute: at 300 mm up to 0.0218 mm."""
    (caution,) = said("ounding", places((300.0, 1.234), shape="dots"))
    (shift,) = (float(one) for one in figures(caution) if one.startswith("0.0"))
    wanted = math.degrees(math.atan2(1.234, 300)) * 120
    assert shift == pytest.approx(abs(wanted - round(wanted)) / 120 * math.pi / 180 * 300, abs=6e-4)


def test_a_second_ring_that_satisfies_the_layers_condition_is_mentioned_in_a_caution() -> None:
    """A layer with a second solution of its condition gets that note as a caution."""
    noted = replace(layer(), condition_note="An offset of 12 mm would do as well.")
    assert "Layer 1: an offset of 12 mm would do as well." in cautions_of(job(noted), LATHE)
