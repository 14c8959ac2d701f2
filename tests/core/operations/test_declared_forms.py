"""Forms that hide fields by a choice of method show exactly the keys that the reader of the method accepts."""

import pytest

from core.lathe.reader import example_lathe
from core.operations.axes.job import KEPT
from core.operations.form import Choice
from core.operations.registry import operation_of, read_operation
from core.values.fields import Table

CHOICES = [
    *(("axes", method) for method in ("bars", "bars compared", "sweep", "two circles")),
    *(("square", method) for method in ("along", "facing", "between centres", "ground bar", "chuck bar")),
]
NAMED_ELSEWHERE = {"kind", "name"}


@pytest.mark.parametrize(("kind", "method"), CHOICES)
def test_the_fields_of_each_form_are_the_keys_that_a_job_file_accepts(kind: str, method: str) -> None:
    """A key without a field would be lost when the form is saved. A field without a key would be refused."""
    lathe, form = example_lathe(), operation_of(kind).form
    assert form is not None
    rows = [row for row in form.rows(lathe, {}) if not isinstance(row, str)]
    choice = next(row for row in rows if row.key == "method")
    assert isinstance(choice, Choice)
    words = next(words for words, value in choice.options if (value or "along") == method)
    shown = {row.key for row in rows if row.applies is None or words in row.applies[1]}
    known: set[str] = set()
    unknown = Table({"kind": kind, "name": "x", "method": method, "no such key": 1}, "", [])
    read_operation(unknown, lathe)
    for problem in unknown.problems:
        if problem.key == "no such key":
            known = set(problem.message.partition("Use one of these: ")[2].rstrip(".").split(", "))
    # Keys that only the counter sets have no field.
    assert known - NAMED_ELSEWHERE - set(KEPT) == shown - {"material"}
