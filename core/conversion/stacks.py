"""The answer to a question such as "stack 23.45 mm": which of the user's bars and shims add up to a height."""

from fractions import Fraction
from typing import Any

from core.conversion.answers import Conversion
from core.lathe.lathe import Lathe, how_to_add
from core.operations.axes.stack import best_stack
from core.values.errors import QuantityError
from core.values.quantities import mm_text
from core.values.words import Row


def stack_answer(asked: str, height_mm: Fraction, lathe: Lathe | None) -> Conversion:
    """Return the answer for a height [mm]: the nearest stack, its error, and the plate to make for the rest.

    `asked`: the question, which the answer repeats. `lathe`: the lathe with the user's bars and shims; None if there
    are no pieces to stack. Raises QuantityError for a height that is not above 0.
    """
    if height_mm <= 0:
        raise QuantityError("The height of a stack must be above 0. Enter a height, such as stack 23.45 mm.")
    owned = [] if lathe is None else [*lathe.bars_mm, *lathe.shims_mm]
    say = mm_text if lathe is None else lathe.length_text
    stack = best_stack(float(height_mm), owned)
    figures: dict[str, Any] = {"stack_mm": list(stack.pieces_mm), "stack_left_mm": stack.left_mm}
    rows = [
        Row(
            "stack",
            " + ".join(map(say, stack.pieces_mm)) or "none of your pieces brings the stack nearer to this height",
        )
    ]
    if not owned:
        rows = [Row("stack", f"no bars or shims are known: {how_to_add('[stock]')}")]
    if stack.plate_mm is None:
        rows.append(Row("left", "nothing"))
    else:
        figures["plate_to_make_mm"] = stack.plate_mm
        if owned:
            side = "low" if stack.left_mm > 0 else "high"
            rows.append(Row("left", f"the stack is {say(abs(stack.left_mm))} too {side}"))
        rows.append(Row("plate to make", stack.plate_words(say)))
    if not stack.is_best:
        rows.append(Row("note", "too many pieces to try every combination, so a nearer stack may exist"))
    return Conversion(asked=asked, kind="stack", figures=figures, rows=tuple(rows))
