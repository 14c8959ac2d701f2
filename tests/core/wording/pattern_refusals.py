"""What the reading of a pattern says: what is refused of its keys and conditions, and of two solutions the other."""

from collections.abc import Iterator
from typing import Any

from core.operations.patterns.form_values import open_field_answer
from tests.core.operations.dividing.rotary import lathe_with, layers_job, layers_problems
from tests.core.operations.patterns import test_conditions, test_pattern_reading
from tests.core.wording.said import Said, keys_text, said

_SHORT = 160


def page() -> Iterator[Said]:
    """Return what is entered, and the sentences."""
    for layer, operation, _ in test_pattern_reading.WRONG:
        yield _refused(layer, operation)
    for operation, _ in test_pattern_reading.OPERATION_WRONG:
        yield _refused(test_pattern_reading.CIRCLES, operation, shown=operation)
    for layer, _, _ in test_conditions.REFUSED:
        yield _refused(layer, test_conditions.CUTTER)
    for layer in test_conditions.BETWEEN:
        yield _refused(layer, test_conditions.CUTTER)
    for layer in ({"count": 5, "inner": "8 mm", "outer": "32 mm"}, {"count": 5, "offset": "20 mm", "inner": "12 mm"}):
        (read,) = layers_job(lathe_with(), layer).layers
        yield said(keys_text(layer), read.condition_note)
    for condition, layer in (
        ({"land": "0.5 mm"}, {"offset": "20 mm", "circle_radius": "3 mm", "depth": "0.5 mm"}),
        ({"overlap": "0.5 mm"}, {"offset": "20 mm", "circle_radius": "3 mm"}),
        ({"touches": 3}, {"offset": "20 mm", "circle_radius": "3 mm"}),
        ({"outer": "20 mm"}, {"count": 5, "circle_radius": "3 mm"}),
    ):
        answer = open_field_answer(condition, layer, {"cutter": [test_pattern_reading.WIDE]})
        assert answer is not None
        yield said(f"{keys_text(condition)}, {keys_text(layer)}", f"{answer.key} {answer.text}: {answer.note}")


def _refused(layer: dict[str, Any], operation: dict[str, Any], *, shown: dict[str, Any] | None = None) -> Said:
    _, problems = layers_problems(lathe_with(), layer, **operation)
    parts = [layer, *([operation] if operation else [])] if shown is None else [shown]
    situation = " / ".join(keys_text(part) for part in parts)
    return said(situation[:_SHORT].encode("ascii", "replace").decode(), *map(str, problems))
