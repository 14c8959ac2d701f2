"""Checks of a pattern against another blank or table match hand calculations given in each test."""

from dataclasses import replace
from typing import Any

import pytest

from core.lathe.lathe import Cutter, Lathe
from core.operations.patterns.fitting import Finding, drawn_job, fit_findings, with_own_cutters
from tests.core.operations.dividing.rotary import lathe_with, pattern_keys

RING = {"count": 7, "offset": "20 mm", "circle_radius": "8 mm", "depth": "0.5 mm"}


def table(blank: str = "90 mm", **more: Any) -> dict[str, Any]:
    """Return the job-file mapping of one ring of seven circles."""
    return {**pattern_keys(RING, tip_angle="90 deg"), "blank_diameter": blank, **more}


def found(wanted: dict[str, Any], lathe: Lathe | None = None) -> list[Finding]:
    """Return the findings for a pattern."""
    return list(fit_findings(wanted, lathe or lathe_with(plates=True)))


def of(gravity: str, wanted: dict[str, Any], lathe: Lathe | None = None) -> list[str]:
    """Return the messages of findings with one gravity."""
    return [one.message for one in found(wanted, lathe) if one.gravity == gravity]


def test_a_pattern_well_within_the_blank_is_reported_to_fit() -> None:
    """The groove ends at 20 + 8 + 0.5 = 28.5 mm, well within a blank of 45 mm radius."""
    assert of("refused", table()) == []
    assert any("90 mm" in words for words in of("good", table()))


def test_a_caution_says_how_far_a_pattern_runs_off_the_blank() -> None:
    """The groove reaches 28.5 mm on a blank of 27 mm radius, 1.5 mm over the edge."""
    (words,) = [words for words in of("caution", table("54 mm")) if "off the blank" in words]
    assert "1.5 mm" in words and of("refused", table("54 mm")) == []


def test_a_pattern_entirely_off_the_blank_is_refused() -> None:
    """The nearest edge is at 20 - 8 - 0.5 = 11.5 mm: off a blank of 11 mm radius, but on one of 12 mm."""
    assert len(of("refused", table("22 mm"))) == 1 and of("refused", table("24 mm")) == []


def test_sizes_beyond_the_slides_travel_the_heads_range_or_the_cutters_reach_are_refused() -> None:
    """Travel 19 mm for an offset of 20 mm, a head up to 7 mm for a radius of 8 mm, a shank that rubs at 0.4 mm."""
    lathe = lathe_with()
    slide, head = lathe.dials["cross_slide"], lathe.dials["boring_head"]
    short = replace(lathe, dials={**lathe.dials, "cross_slide": replace(slide, slide_travel_mm=19.0)})
    small = replace(lathe, dials={**lathe.dials, "boring_head": replace(head, most_radius_mm=7.0)})
    rubbing = table(cutter=[{"name": "point", "tip_angle": "90 deg", "reach": "0.4 mm"}])
    for wanted, on, number in ((table(), short, "19 mm"), (table(), small, "7 mm"), (rubbing, lathe, "0.4 mm")):
        assert any(number in words for words in of("refused", wanted, on))
        assert drawn_job(wanted, on) is not None


def test_the_most_exact_means_of_setting_the_table_is_listed_first() -> None:
    """Sevenths of 72 turns are exact on 21, 49 ... holes. On a dial of 2' the error is up to 6/7' = 51.4".

    360/7 deg is 21600/7 = 3085.71 minutes; the nearest even minute is at most 6/7 minute away (k = 1 ... 6), which is
    0.0050 mm on a radius of 20 mm (tan 51.43" = 0.00024933).
    """
    words = [one.message for one in found(table()) if one.message.startswith("By ")]
    assert words[0] == "By a plate: every position is exact."
    assert words[1] == "By the dial: up to 0.005 mm (0°00'51.4\") off."
    named = [one for one in found(table(**{"with": "dial"})) if "dial" in one.message]
    assert named[0].gravity == "caution" and "Better by a plate" in named[0].message


def test_a_message_says_that_the_notched_plate_cannot_divide_the_pattern() -> None:
    """A plate with 24 notches has no notch at a seventh of the circle."""
    lathe = lathe_with(direct=(24,))
    assert any("notches" in words and "not possible" in words for words in of("good", table(), lathe))


def test_a_stored_pattern_that_needs_dividing_plates_is_refused_for_a_table_without_plates() -> None:
    """The stored pattern is set by a plate, and the table has no plates."""
    lathe = lathe_with()
    wanted = table(**{"with": "plate"})
    assert len(of("refused", wanted, lathe)) == 1
    assert any(one.message.startswith("By the dial") for one in found(wanted, lathe))


def test_a_stored_pattern_is_refused_on_a_lathe_without_a_rotary_table() -> None:
    """Nothing can be set on this lathe, but the program can still check the blank."""
    bare = replace(lathe_with(), rotary_table=None)
    assert of("refused", table("54 mm"), bare) and any(
        "1.5 mm" in words for words in of("caution", table("54 mm"), bare)
    )


def test_a_stored_pattern_includes_the_cutters_of_the_lathe_file() -> None:
    """The pattern stores them, because another lathe has other cutters."""
    lathe = replace(lathe_with(), cutters=(Cutter("blunt", 120.0, tip_flat_mm=0.2, reach_mm=4.0), Cutter("fine", 60.0)))
    layers = [{"shape": "circles", **RING, "cutter": name} for name in ("blunt", "own")]
    wanted = {**table(), "cutter": [{"name": "own", "tip_angle": "90 deg"}], "layer": layers}
    kept = with_own_cutters(wanted, lathe)
    blunt = {"name": "blunt", "tip_angle": "120 deg", "tip_flat": "0.2 mm", "reach": "4 mm"}
    assert kept["cutter"] == [{"name": "own", "tip_angle": "90 deg"}, blunt]
    assert [layer["cutter"] for layer in kept["layer"]] == ["blunt", "own"]
    assert of("refused", kept) == []
    assert with_own_cutters(table(), lathe) == table()


@pytest.mark.parametrize("broken", [{}, {"layer": 3}, {"layer": []}, {"cutter": 5}, {"blank_diameter": "wide"}])
def test_a_stored_pattern_with_invalid_values_is_refused_without_an_exception(broken: dict[str, Any]) -> None:
    """A file can hold any value. The checks refuse it without an exception."""
    wanted = {**table(), **broken} if broken else {}
    assert of("refused", wanted)
    drawn_job(wanted, lathe_with())
    with_own_cutters(wanted, lathe_with())
