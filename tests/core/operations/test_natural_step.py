"""How far one key press changes a field, compared with the graduations in the sample lathe files."""

from fractions import Fraction
from pathlib import Path

import pytest

from core.lathe.reader import read_lathe
from core.operations.form import Entry
from core.operations.natural_step import COMPOUND_SCALE, INDICATOR, natural_step
from core.operations.registry import operation_of

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
MIXED, INCH = read_lathe(SAMPLES / "mixed_lathe.toml"), read_lathe(SAMPLES / "inch_lathe.toml")
"""A lathe with 0.02 mm marks on its cross-slide and 0.001 in on its boring head; and an inch lathe."""
SLIDE, HEAD = ("offset_dial", "cross_slide"), ("boring_head",)


def size(entry: Entry, lathe: object = MIXED, **table: str) -> Fraction | None:
    """Return the amount by which one key press changes a field, in mm, deg or rpm."""
    step = natural_step(entry, table, lathe)  # type: ignore[arg-type]
    return None if step is None else step.size


def test_one_key_press_changes_a_length_by_one_mark_of_its_dial() -> None:
    """A diameter changes by twice the mark. A radius changes by half the mark of a head that reads diameters."""
    assert size(Entry("offset", "Offset", "mm", set_on=SLIDE)) == Fraction(2, 100)
    assert size(Entry("to", "Diameter", "mm", set_on=("cross_slide",), is_across=True)) == Fraction(4, 100)
    assert size(Entry("circle_radius", "Radius", "mm", set_on=HEAD)) == Fraction(254, 20_000)


def test_one_key_press_changes_an_offset_by_one_mark_of_the_dial_chosen_in_the_form() -> None:
    """The carriage has marks of 0.1 mm."""
    assert size(Entry("offset", "Offset", "mm", set_on=SLIDE), offset_dial="carriage") == Fraction(1, 10)


def test_one_key_press_changes_a_length_without_a_dial_by_0_1_mm_or_0_005_in() -> None:
    """The same holds on a lathe that lacks the dial."""
    assert size(Entry("blank", "Blank", "mm")) == Fraction(1, 10)
    assert size(Entry("blank", "Blank", "in"), INCH) == Fraction(127, 1000)
    assert size(Entry("circle_radius", "Radius", "in", set_on=HEAD), INCH) == Fraction(127, 1000)


def test_one_key_press_changes_an_angle_by_one_mark_and_a_count_by_one() -> None:
    """The sample's compound scale has a mark for each degree, and its indicator a mark for each 0.01 mm."""
    assert size(Entry("start", "Start", "deg")) == 1
    assert size(Entry("angle", "Angle", "deg", set_on=(COMPOUND_SCALE,))) == 1
    assert size(Entry("error", "Error", "arcmin")) == Fraction(1, 60)
    assert size(Entry("count", "Count", whole=True)) == 1
    assert size(Entry("height_error", "Height", "mm", set_on=(INDICATOR,))) == Fraction(1, 100)


@pytest.mark.parametrize("entry", [Entry("name", "Name"), Entry("at", "Places", "mm", listed=True)])
def test_texts_and_lists_cannot_be_changed_step_by_step_with_a_key(entry: Entry) -> None:
    """Neither is a single number."""
    assert size(entry) is None


@pytest.mark.parametrize(
    ("kind", "across", "along"),
    [
        ("turn", {"from", "to"}, {"ends_at", "starts_at"}),
        ("groove", {"diameter_now", "diameter"}, {"ends_at", "starts_at"}),
        ("shoulders", {"from", "diameter_1", "diameter_10"}, {"ends_at_1", "ends_at_10"}),
        ("taper", {"large", "small"}, {"starts_at"}),
    ],
)
def test_a_key_press_changes_a_diameter_by_cross_slide_marks_and_a_length_by_carriage_marks(
    kind: str, across: set[str], along: set[str]
) -> None:
    """The sample's cross-slide has marks of 0.02 mm on the radius, and its carriage marks of 0.1 mm."""
    form = operation_of(kind).form
    assert form is not None
    entries = {row.key: row for row in form.rows(MIXED, {}) if isinstance(row, Entry)}
    steps = {key: natural_step(entries[key], {}, MIXED) for key in across | along}
    assert {step.words for key in across if (step := steps[key])} == {"1 mark of the cross-slide, 0.04 mm"}
    assert {step.words for key in along if (step := steps[key])} == {"1 mark of the carriage, 0.1 mm"}
