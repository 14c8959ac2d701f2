"""Every number is in the unit of its dial or field. A thread named in millimetres has millimetres first."""

from fractions import Fraction
from typing import Any

import pytest

from core.lathe.dial_face import show_reading
from core.lathe.reader import lathe_from
from core.lathe.set_up.answers import dial_unit, in_unit
from core.lathe.set_up.chapters import dial_chapter
from core.lathe.set_up.measuring import MEASURING_METHODS
from core.operations.threads.planning import limits_text
from core.pages.figure_words import figure_lines
from core.values.dials import Dial
from tests.core.thread_jobs import job_of, lathe, plan_of
from tui.setup.pictures import PICTURES

INCH_DIAL = {"per_turn": "0.100 in", "graduation": "0.001 in", "reads": "travel"}
INCH = lathe(dial={"cross_slide": INCH_DIAL, "compound": INCH_DIAL, "carriage": INCH_DIAL})


@pytest.mark.parametrize(
    ("unit", "graduation", "position", "slide", "diameter"),
    [
        # 15 thou are 0.381 mm, on both sides 0.762 mm; 0.42 mm are 0.0165354 in (1 in = 25.4 mm).
        ("in", "1/1000", "15 thou", "0.015 in (0.381 mm)", "0.03 in (0.762 mm)"),
        ("mm", "1/50", "0.42 mm", "0.42 mm (16.535 thou)", "0.84 mm (33.071 thou)"),
    ],
)
def test_the_test_of_a_dial_shows_movements_first_in_the_unit_of_that_dial(
    unit: Any, graduation: str, position: str, slide: str, diameter: str
) -> None:
    """The reading of an indicator in the dial's own unit comes first."""
    lines = show_reading(Dial(name="cross_slide", unit=unit, graduation=Fraction(graduation)), position)
    assert f"The slide moves in by {slide}." in lines
    assert f"A diameter changes by {diameter}." in lines


@pytest.mark.parametrize("name", ["cross_slide", "compound", "carriage", "boring_head", "other"])
@pytest.mark.parametrize(("per_turn", "other_unit"), [("100 thou", "mm"), ("0.1 in", "mm"), ("4 mm", "thou")])
def test_set_up_asks_for_a_test_cut_in_the_unit_of_the_dial(name: str, per_turn: str, other_unit: str) -> None:
    """ "Take 0.5 mm off" cannot be set on a dial in thou, and 20 thou cannot be set on a dial in millimetres."""
    questions = {question.key: question for question in dial_chapter(name).questions}
    sentences = (
        *questions["reads"].how,
        *MEASURING_METHODS["by_cut"].steps,
        *MEASURING_METHODS["by_circle"].steps,
        *MEASURING_METHODS["by_slide"].steps,
    )
    for sentence in sentences:
        shown = in_unit(sentence, dial_unit({"per_turn": per_turn}))
        assert not any(f"{number} {other_unit}" in shown for number in ("0.5", "1", "20", "40"))
        assert not set("{|}") & set(shown)


def test_the_pitch_of_a_metric_thread_is_shown_in_millimetres_first_on_an_inch_lathe() -> None:
    """M20x2.5: 2.5 mm is 0.0984 in. The blank, which is turned by the dial, is in inches first."""
    lines = dict(figure_lines(plan_of(INCH, thread="M20x2.5", blank="19.8 mm").figures, INCH.unit))
    assert lines["pitch"] == "2.5 mm (0.0984 in)"
    # ISO 965-1: es = -42 um, Td2 of grade 6 170 um; d2 = 18.376 mm.
    assert lines["pitch diameter, maximum"] == "18.334 mm (0.7218 in)"
    assert lines["blank"] == "0.7795 in (19.8 mm)"
    assert lines["clearance holes"].startswith("fine 21 mm (0.8268 in)")
    thread = job_of(INCH, thread="M20x2.5").thread
    assert limits_text((18.164, 18.334), thread, INCH) == "18.164 mm to 18.334 mm (0.7151 in to 0.7218 in)"


def test_the_sizes_of_an_inch_thread_are_shown_first_in_the_unit_of_the_lathe() -> None:
    """1/2-13: inches first on an inch lathe, millimetres first on a metric one."""
    plan = plan_of(INCH, thread="1/2-13 UNC")
    assert dict(figure_lines(plan.figures, "in"))["major diameter, basic"] == "0.5000 in (12.7 mm)"
    assert dict(figure_lines(plan.figures, "mm"))["major diameter, basic"] == "12.7 mm"


def test_no_length_is_shown_in_millimetres_alone_on_an_inch_lathe() -> None:
    """The job is an inch thread on a lathe in inches, with a scale that is too short for its compound."""
    data = dict(INCH.data) | {
        "compound": {"scale_zero": "parallel", "scale_end": "60 deg"},
        "leadscrew": {"pitch": "8 tpi"},
    }
    short = lathe_from(data, "test")
    plan = plan_of(short, thread="1/2-13 UNC", relief="0.2 in", wire="0.01 in", length="4 in")
    texts = [
        *plan.cautions,
        *(step.text for step in plan.steps),
        *(one for step in plan.steps for one in step.cautions),
    ]
    assert any("sideways in 10 in" in text for text in texts)
    assert [text for text in texts if " mm" in text] == []


@pytest.mark.parametrize("name", ["sense", "slide_sense", "circles"])
def test_the_pictures_in_set_up_use_the_unit_of_the_dial(name: str) -> None:
    """A dial in thou is moved by 20, a dial in millimetres by 0.5. The change of diameter is 40 or 1.0."""
    for per_turn, there, absent in (("100 thou", "20", "0.5"), ("4 mm", "0.5", "20")):
        shown = " ".join(in_unit(line, dial_unit({"per_turn": per_turn})) for line in PICTURES[name])
        assert there in shown and absent not in shown and "{" not in shown
