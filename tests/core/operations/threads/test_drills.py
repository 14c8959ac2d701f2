"""Drill series, tapping drills and clearance holes, compared with published values."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.operations.threads.designation import read_thread
from core.operations.threads.drills import (
    clearance_hole_mm,
    drill_series,
    height_words,
    nearest_drills,
    percent_of_thread,
    tapping_drill,
    tapping_words,
)
from core.operations.threads.profiles import custom_thread
from core.operations.threads.thread import Thread
from core.values.errors import ThreadError
from core.values.quantities import mm_text
from tests.published import Printed, none_wrong, printed_rows

DRILLS = {drill.name: drill for drills in drill_series().values() for drill in drills}


def _rows(quantity: str) -> list[Printed]:
    return [row for row in printed_rows("drills") if row.quantity == quantity]


def _inside(designation: str) -> Thread:
    return read_thread(designation, side="inside")


def test_drill_sizes_match_published_sizes() -> None:
    """The drills are number, letter and fractional drills, in inches."""
    none_wrong(
        [
            f"{row.inputs['name']}: {row.printed} in in {row.source}, here {DRILLS[row.inputs['name']].mm / 25.4}"
            for row in _rows("size in")
            if abs(DRILLS[row.inputs["name"]].mm / 25.4 - float(row.printed)) > row.tolerance
        ]
    )


def test_every_drill_series_is_complete() -> None:
    """The series are 80 numbers, 26 letters, every 64th up to an inch, and the metric steps of BS 328 (from memory)."""
    series = drill_series()
    assert {drill.name for drill in series["number"]} == {f"#{number}" for number in range(1, 81)}
    assert [drill.name for drill in series["letter"]] == [chr(ord("A") + place) for place in range(26)]
    sixty_fourths = [Fraction(round(drill.mm / 25.4 * 64), 64) for drill in series["fractional"]]
    assert sixty_fourths[:64] == [Fraction(count, 64) for count in range(1, 65)]
    assert {"0.2 mm", "0.98 mm", "1.05 mm", "2.95 mm", "3.1 mm", "10.2 mm", "14.25 mm", "25 mm"} <= set(DRILLS)
    assert {"3.05 mm", "14.1 mm", "0.21 mm", "1.02 mm"}.isdisjoint(DRILLS)
    assert len(DRILLS) == sum(len(drills) for drills in series.values())


def test_every_drill_series_is_sorted_from_thin_to_thick() -> None:
    """Each series goes from thin to thick, so number drills are listed from the highest number down."""
    for drills in drill_series().values():
        sizes = [drill.mm for drill in drills]
        assert sizes == sorted(set(sizes))
    numbers = [int(drill.name[1:]) for drill in drill_series()["number"]]
    assert numbers == list(range(80, 0, -1))


@given(st.floats(0.05, 60))
def test_the_nearest_smaller_and_larger_drills_of_every_series_are_found(diameter_mm: float) -> None:
    """A search through each whole series finds the same two drills."""
    found = nearest_drills(diameter_mm)
    for series, drills in drill_series().items():
        sizes = np.array([drill.mm for drill in drills])
        wanted = {*sizes[sizes <= diameter_mm][-1:], *sizes[sizes >= diameter_mm][:1]}
        assert {drill.mm for drill in found if drill.series == series} == wanted


@given(st.sampled_from(sorted(DRILLS)))
def test_for_the_exact_size_of_a_drill_its_series_offers_only_that_drill(name: str) -> None:
    """For the exact size of a drill, its series gives only that drill."""
    drill = DRILLS[name]
    assert [near for near in nearest_drills(drill.mm) if near.series == drill.series] == [drill]


@pytest.mark.parametrize("source", sorted({row.source for row in _rows("tapping drill")}))
def test_recommended_tapping_drills_match_published_recommendations(source: str) -> None:
    """The recommended drill is also inside the limits of the minor diameter."""
    wrong = []
    for row in _rows("tapping drill"):
        if row.source == source:
            thread = _inside(row.inputs["thread"])
            least, most = thread.limits.minor_min_mm, thread.limits.minor_max_mm
            tapping = tapping_drill(thread)
            assert tapping is not None and least is not None and most is not None, row
            if tapping.drill.name != row.printed or not least <= tapping.drill.mm <= most:
                wrong.append(f"{row.inputs['thread']}: {row.printed} in {source}, here {tapping.drill}")
    none_wrong(wrong)


@pytest.mark.parametrize("row", _rows("percent of thread"))
def test_percentages_of_thread_match_published_percentages(row: Printed) -> None:
    """The same hole has one percentage of 3H/4 and another of 5H/8, as printed."""
    given_ = row.inputs
    thread = custom_thread(
        included_angle_deg=60, major_mm=given_["major_mm"], pitch_mm=given_["pitch_mm"], internal=True
    )
    percent = percent_of_thread(given_["hole_mm"], thread, given_["basis"])
    assert percent == pytest.approx(float(row.printed), abs=row.tolerance)


def test_a_tapping_drill_is_shown_with_two_percentages_that_each_name_their_full_depth() -> None:
    """A percentage means nothing without its full depth: M6 from 5 mm is 77 % of 3H/4 or 92 % of 5H/8."""
    thread = _inside("M6")
    tapping = tapping_drill(thread)
    assert tapping is not None
    assert tapping.full_depth == "3H/4"
    words = tapping_words(thread, tapping)
    assert "77 % of 3H/4" in words
    assert "92 % of 5H/8" in words


@pytest.mark.parametrize(("name", "height_mm"), [("M6", "0.866"), ("M8", "1.083"), ("1/4-20 UNC", "1.1")])
def test_the_height_of_the_sharp_v_is_stated_for_60_degree_threads(name: str, height_mm: str) -> None:
    """ISO 68-1 and ASME B1.1: H = 0.86602540 P, here for pitches of 1 mm, 1.25 mm and 1.27 mm."""
    assert height_words(_inside(name), mm_text).endswith(f"0.866 of the pitch: {height_mm} mm")


def test_no_height_of_the_sharp_v_is_stated_for_a_whitworth_thread() -> None:
    """The percentage of a Whitworth thread counts from the full depth of its form, which needs no H."""
    assert height_words(_inside("1/2 BSW"), mm_text) == ""


@pytest.mark.parametrize("size", ["6", "8", "10", "12", "16", "20", "24", "30"])
@pytest.mark.parametrize("tolerance_class", ["4H", "5H", "6H", "7H", "6G"])
def test_a_metric_tapping_drill_is_inside_the_minor_diameter_limits_of_its_class(
    size: str, tolerance_class: str
) -> None:
    """The drill is inside the limits of the class. If no drill is, none is recommended, and the hole must be bored."""
    thread = _inside(f"M{size}-{tolerance_class}")
    tapping = tapping_drill(thread)
    least, most = thread.limits.minor_min_mm, thread.limits.minor_max_mm
    assert least is not None and most is not None
    inside = [drill for drill in DRILLS.values() if least <= drill.mm <= most]
    assert (tapping is None) == (not inside)
    assert tapping is None or tapping.drill in inside


def test_a_trapezoidal_tapping_drill_is_at_least_the_diameter_minus_the_pitch() -> None:
    """The mating crest needs the whole depth, so Tr20x4 is drilled D - P = 16 mm (ISO 2904) or larger."""
    tapping = tapping_drill(_inside("Tr20x4-7H"))
    assert tapping is not None
    assert 16 <= tapping.drill.mm <= 17
    assert tapping.full_depth == "full depth"


def test_a_custom_thread_without_limits_still_gets_a_tapping_drill() -> None:
    """The drill is d - P at 60 degrees, and 75 % of the depth at 55. A thread larger than all drills gets none."""
    sixty = tapping_drill(custom_thread(included_angle_deg=60, major_mm=11, pitch_mm=1.5, internal=True))
    assert sixty is not None
    assert sixty.drill.name == "9.5 mm"
    whitworth = tapping_drill(custom_thread(included_angle_deg=55, major_mm=20, pitch_mm=2.5, internal=True))
    assert whitworth is not None
    # Depth 0.640327 P on each side (BS 84).
    assert whitworth.percent == pytest.approx(100 * (20 - whitworth.drill.mm) / (2 * 0.640327 * 2.5), rel=1e-5)
    assert 65 < whitworth.percent < 85
    assert tapping_drill(custom_thread(included_angle_deg=60, major_mm=90, pitch_mm=2, internal=True)) is None


def test_a_tapping_drill_for_an_external_thread_is_refused() -> None:
    """The refusal names the thread."""
    with pytest.raises(ThreadError, match=r"M10x1\.5-6g is an outside thread"):
        tapping_drill(read_thread("M10-6g", side="outside"))


@pytest.mark.parametrize("row", _rows("clearance hole"))
def test_clearance_holes_match_published_sizes(row: Printed) -> None:
    """All three fits agree with ISO 273."""
    hole_mm = getattr(clearance_hole_mm(row.inputs["nominal"]), row.inputs["fit"])
    assert hole_mm == pytest.approx(float(row.printed), abs=row.tolerance)


@pytest.mark.parametrize("nominal", ["M1", "M2.5", "m 2,5", "M4", "M8", "M12", "M20", "M48", "M64", "M100"])
def test_a_looser_fit_gives_a_larger_clearance_hole(nominal: str) -> None:
    """Even the closest fit is larger than the screw."""
    hole = clearance_hole_mm(nominal)
    screw_mm = float(nominal.lstrip("Mm ").replace(",", "."))
    assert screw_mm < hole.fine_mm < hole.medium_mm < hole.coarse_mm < 1.4 * screw_mm


@pytest.mark.parametrize("nominal", ["M9", "10", "", "M", "M10x1.5", "M10\x1b[2J", "M" + "9" * 500, "M1٠"])
def test_clearance_holes_for_unlisted_screw_sizes_are_refused(nominal: str) -> None:
    """The refusal is one line and says what to enter."""
    with pytest.raises(ThreadError, match=r"Enter one of M1, M1\.2,") as caught:
        clearance_hole_mm(nominal)
    assert caught.value.message.isprintable()
    assert len(caught.value.message) < 600
