"""The answer to "stack 23.45 mm": which of the lathe's bars and shims make up a height."""

from fractions import Fraction
from typing import Any

from core.conversion.answers import Conversion
from core.lathe.lathe import Lathe, how_to_add
from core.operations.axes.stack import best_stack
from core.values.errors import QuantityError
from core.values.words import Row


def stack_answer(asked: str, height_mm: Fraction, lathe: Lathe | None) -> Conversion:
    """Return the stack nearest to a height [mm], what is left, and the plate to make.

    Raises QuantityError for a height that is not above 0, or if no bars and shims are known.
    """
    if height_mm <= 0:
        raise QuantityError("A stack has a height above 0. Enter one, such as stack 23.45 mm.")
    owned = [] if lathe is None else [*lathe.bars_mm, *lathe.shims_mm]
    if lathe is None or not owned:
        raise QuantityError(f"No bars or shims are known. To get a stack, {how_to_add('[stock]')}.")
    stack, say = best_stack(float(height_mm), owned), lathe.length_text
    pieces = " + ".join(map(say, stack.pieces_mm)) or "none of your pieces is nearer than nothing"
    rows = [Row("stack", pieces)]
    figures: dict[str, Any] = {"stack_mm": list(stack.pieces_mm), "stack_left_mm": stack.left_mm}
    if stack.plate_mm is None:
        rows.append(Row("left", "nothing"))
    else:
        left = f"{say(abs(stack.left_mm))}, the stack is too {'low' if stack.left_mm > 0 else 'high'}"
        rows += [Row("left", left), Row("plate to make", stack.plate_words(say))]
        figures["plate_to_make_mm"] = stack.plate_mm
    if not stack.is_best:
        rows.append(Row("note", "too many pieces to try all together: a nearer stack may exist"))
    return Conversion(asked=asked, kind="stack", figures=figures, rows=tuple(rows))
