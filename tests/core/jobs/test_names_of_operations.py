"""Names of operations: a name that the log finds a run by may occur only once in a job."""

from pathlib import Path

import pytest

from core.jobs.editor import change_operation, remove_operation
from core.jobs.job import parse_job
from core.values.errors import FileError

JOB = """format = 1
title = "Two ends"
[[operation]]
kind = "by_hand"
name = "{}"
text = "Chamfer the end."
[[operation]]
kind = "by_hand"
name = "{}"
text = "Chamfer the other end."
"""


@pytest.mark.parametrize(
    "other", ["Chamfer ", " Chamfer", "Chamfer\\t", "Cham\\u200bfer", "Chamfer\\u00a0", "\\u202aChamfer"]
)
def test_names_that_look_the_same_count_as_duplicates(other: str) -> None:
    """Otherwise blanks at the ends or invisible characters would let two operations share runs."""
    with pytest.raises(FileError, match='Operations 1 and 2 have the same name "Chamfer"'):
        parse_job(JOB.format("Chamfer", other), Path("job.toml"))


def test_an_operation_written_with_a_blank_can_be_changed(tmp_path: Path) -> None:
    """The editor finds it by the name that is shown."""
    path = tmp_path / "job.toml"
    path.write_text(JOB.format("Chamfer ", "Deburr"))
    table = {"kind": "by_hand", "name": "Chamfer", "text": "Chamfer it."}
    assert change_operation(path, "Chamfer", table).operations[0].plan_input.parameters["text"] == "Chamfer it."
    assert [operation.name for operation in remove_operation(path, "Chamfer").operations] == ["Deburr"]
