"""A stack as an answer of conversion, worked by hand."""

from dataclasses import replace

import pytest

from core.conversion.answers import as_data, text_lines
from core.conversion.convert import convert
from core.lathe.reader import example_lathe
from core.values.errors import QuantityError

LATHE = replace(example_lathe(), bars_mm=(6.0, 12.0), shims_mm=(0.2, 0.5, 0.05))


def test_a_stack_is_made_up_of_the_bars_and_shims_in_the_lathe_file() -> None:
    """12.75 = 12 + 0.5 + 0.2 + 0.05. 12.71 = 12 + 0.5 + 0.2 lacks 0.01: a plate of 12.01 replaces the 12."""
    assert as_data(convert("stack 12.75 mm", LATHE)) == {
        "asked": "stack 12.75 mm",
        "kind": "stack",
        "stack_mm": [12.0, 0.5, 0.2, 0.05],
        "stack_left_mm": 0.0,
    }
    near = as_data(convert("Stack of 12.71 mm", LATHE))
    assert near["stack_mm"] == [12.0, 0.5, 0.2]
    assert near["stack_left_mm"] == pytest.approx(0.01) and near["plate_to_make_mm"] == pytest.approx(12.01)


def test_the_height_of_a_stack_can_be_given_as_an_expression() -> None:
    """1/4 in minus 0.1 mm is 6.25 mm: 6 + 0.2 + 0.05."""
    assert as_data(convert("stack 1/4 in - 0.1 mm", LATHE))["stack_mm"] == [6.0, 0.2, 0.05]


@pytest.mark.parametrize("lathe", [None, example_lathe()])
def test_without_bars_and_shims_the_answer_is_a_plate_of_the_whole_height(lathe: object) -> None:
    """The answer also says where to enter the pieces that the user owns."""
    answer = convert("stack 0.85 mm", lathe)  # type: ignore[arg-type]
    assert answer.figures["plate_to_make_mm"] == pytest.approx(0.85)
    assert any("[stock]" in line for line in text_lines(answer))


@pytest.mark.parametrize(
    "asked", ["stack", "stack 0 mm", "stack -3 mm", "stack 3 deg", "stack 3", "stack of", "stack x"]
)
def test_a_stack_without_a_valid_height_is_refused(asked: str) -> None:
    """The refusal is a sentence."""
    with pytest.raises(QuantityError) as refused:
        convert(asked, LATHE)
    assert str(refused.value.message).endswith(".") and len(refused.value.message) < 600
