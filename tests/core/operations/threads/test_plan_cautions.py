"""Cautions about wires, the compound's scale and sizes without a series; rounding of sizes in sixty-fourths."""

from fractions import Fraction
from math import cos, radians, sin

import pytest

from core.lathe.lathe import CompoundScale
from core.lathe.reader import example_lathe
from core.operations.threads.compound import nearest_mark_words, sideways_words
from core.operations.threads.designation import read_thread
from core.operations.threads.plan_cautions import thread_cautions
from core.operations.threads.planning import plan_passes
from core.operations.threads.tool import tool_words
from core.operations.threads.wires import wire_caution
from tests.core.exact import rounded
from tests.core.operations.threads.printed_limits import wrong_sizes
from tests.core.thread_jobs import job_of
from tests.published import none_wrong


def _cautions(**table: object) -> list[str]:
    lathe = example_lathe()
    job = job_of(**table)
    passes = plan_passes(job, lathe, None)
    return list(thread_cautions(job, lathe, passes.infeed, passes.schedule, None))


@pytest.mark.parametrize(
    ("wire_mm", "words"),
    [(0.50, "does not rise above the crests"), (1.26, "does not rise above"), (1.443, ""), (2.51, ""),
     (2.53, "lies on the crests, not on the flanks")],
)  # fmt: skip
def test_a_caution_about_a_wire_states_the_range_of_usable_wires(wire_mm: float, words: str) -> None:
    """Handbooks print 0.505 P to 1.010 P for 60 degrees: 1.263 to 2.525 mm for M20x2.5; best P / (2 cos 30)."""
    caution = wire_caution(read_thread("M20x2.5"), wire_mm)
    assert words in caution if words else not caution
    if words:
        assert "best 1.443 mm" in caution
        assert 2.5 / (2 * cos(radians(30))) == pytest.approx(1.443, abs=0.0005)


def test_a_plan_with_an_unusable_wire_has_a_caution_about_the_wire() -> None:
    """The wire is 0.50 mm on M20x2.5. An internal thread gets no caution, because it takes no wires."""
    assert any("The wire of 0.5 mm" in one for one in _cautions(thread="M20x2.5", wire="0.50 mm"))
    assert not any("The wire of" in one for one in _cautions(thread="M20x2.5", wire="1.45 mm"))
    assert not any("The wire of" in one for one in _cautions(thread="M20x2.5-6H", wire="0.50 mm"))


def test_a_major_diameter_in_64ths_is_rounded_before_the_pitch_diameter_is_calculated() -> None:
    """ASME B1.1 rounds D to 4 places first: 0.2969 less 0.64951905 P = 0.018042 is 0.2789, not 0.2788."""
    size = rounded(Fraction(19, 64), "0.0001")
    pitch_line = rounded(Fraction("0.64951905") * rounded(Fraction(1, 36), "0.00000001"), "0.000001")
    least = rounded(size - pitch_line, "0.0001")
    assert (size, least) == (Fraction("0.2969"), Fraction("0.2789"))
    none_wrong(wrong_sizes("19/64-36 UNS-2B", "in", {"internal pitch diameter min": least}))
    assert read_thread("19/64-36 UNS-2B").major_basic_mm == pytest.approx(0.2969 * 25.4, abs=1e-12)


@pytest.mark.parametrize(
    ("written", "designation"),
    [("1/2-13", "1/2-13 UNC-2A"), ("1/2-13-2B", "1/2-13 UNC-2B"), ("#10-32", "#10-32 UNF-2A"),
     ("10-32", "#10-32 UNF-2A"), ("1/2-20 LH", "1/2-20 UNF-2A-LH"), ("1/4-20-2A", "1/4-20 UNC-2A")],
)  # fmt: skip
def test_a_size_listed_in_only_one_series_is_assigned_to_that_series_with_a_note(
    written: str, designation: str
) -> None:
    """ASME B1.1 lists 1/2-13 in UNC alone. 1/4-20 is also BSW, but the fits of BSW are not named 2A."""
    thread = read_thread(written)
    assert thread.designation == designation
    assert thread.notes[0].startswith(f"No series was entered. Only {designation[: designation.index(' UN') + 4]}")
    assert any(thread.notes[0] in one for one in _cautions(thread=written))


def test_the_entered_tool_tip_and_the_tip_of_the_standard_are_both_shown() -> None:
    """The tip for M30x3.5 is 0.30 mm flat. The standard's flat is P/4 of ISO 68-1's internal root, 0.875 mm."""
    ground, standard = tool_words(job_of(thread="M30x3.5-6g", tool_flat="0.30 mm"), example_lathe())
    assert ground == "60° included, flat 0.3 mm"
    assert standard.startswith("the standard's root: ")
    assert "0.3 mm" not in standard


def test_if_the_compound_scale_is_too_short_its_nearest_mark_is_offered_first() -> None:
    """Zero square and end at 25: use mark 25. Zero along the axis and end at 60: no mark can be used."""
    square, along = CompoundScale(zero="perpendicular", end_deg=25), CompoundScale(zero="parallel", end_deg=60)
    assert nearest_mark_words(30, square).startswith("Set the compound to its mark 25 (25° off square)")
    assert nearest_mark_words(30, along) == ""
    assert sideways_words(30, "mm") == f"{1000 * sin(radians(30)):.0f} mm sideways in 1000 mm"
    assert sideways_words(30, "in") == "5.000 in sideways in 10 in"
