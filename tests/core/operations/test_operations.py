"""The registry of operations: it loads only the modules that a job uses, and reads the set-up that a job states."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from core.jobs.changeover import needs_of
from core.jobs.job import parse_job
from core.operations.registry import operation_of
from core.values.errors import FileError

ROOT = Path(__file__).parents[3]
JOB = 'format = 1\ntitle = "One"\n[[operation]]\nkind = "by_hand"\nname = "Deburr"\ntext = "Deburr it"\n'
HEAD = f'format = 1\ntitle = "One"\nlathe = "{ROOT / "sample_jobs/tailstock_lathe.toml"}"\n[[operation]]\nname = "it"\n'
TABLES = {
    "drill": 'kind = "drill"\ndrill = "6 mm"\ndepth = "12 mm"\ndepth_to = "point"\n',
    "divide": 'kind = "divide"\ndivisions = 24\n',
    "pattern": 'kind = "pattern"\nwith = "dial"\n[[operation.layer]]\nshape = "circles"\ncount = 12\n'
    'offset = "20 mm"\ncircle_radius = "5 mm"\n',
}


def needs(kind: str, stated: str = "") -> Any:
    """Return how the lathe must be set up for an operation whose table states some keys more."""
    first, rest = TABLES[kind].split("\n", 1)
    job = parse_job(f"{HEAD}{first}\n{stated}{rest}", ROOT / "made.toml")
    return needs_of(job.operations[0])


def test_making_a_card_imports_only_the_kinds_of_operation_in_its_job(tmp_path: Path) -> None:
    """A job of one step by hand imports neither threads nor dividing nor patterns, no screen and no pint."""
    job = tmp_path / "job.toml"
    job.write_text(JOB)
    program = (
        f"import sys; from tui.__main__ import main; status = main(['card', {str(job)!r}]);"
        "print(status, sorted({name.partition('.')[0] for name in sys.modules} & {'textual', 'pint', 'rich'}));"
        "rooms = tuple(f'core.operations.{room}' for room in ('threads', 'dividing', 'patterns'));"
        "print([name for name in sys.modules if name.startswith(rooms)])"
    )
    found = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True)
    assert "Deburr it" in found.stdout
    assert found.stdout.splitlines()[-2:] == ["0 []", "[]"]


@pytest.mark.parametrize("kind", TABLES)
def test_workholding_and_tool_stated_in_the_job_replace_the_usual_ones(kind: str) -> None:
    """Workholding and tool of a job's table come before those that the kind of operation would name."""
    usual = needs(kind)
    stated = needs(kind, 'workholding = "soft jaws"\ntool = "carbide, 3 mm"\n')
    assert stated == usual._replace(workholding="soft jaws", tool="carbide, 3 mm")


def test_a_drilled_hole_can_have_its_own_spindle_speed() -> None:
    """`speed` is the spindle's, in rpm."""
    assert needs("drill").speed_rpm is None
    assert needs("drill", 'speed = "640 rpm"\n').speed_rpm == 640


@pytest.mark.parametrize("kind", ["divide", "pattern"])
def test_a_spindle_speed_is_refused_for_work_on_the_rotary_table(kind: str) -> None:
    """The spindle's speed is not among the keys of these kinds."""
    with pytest.raises(FileError, match="speed"):
        needs(kind, 'speed = "640 rpm"\n')


def test_the_form_of_a_drilled_hole_has_a_field_for_each_set_up_key() -> None:
    """Without a field a key would be lost when the form is saved."""
    operation = operation_of("drill")
    assert operation.form is not None
    rows = operation.form.rows(parse_job(HEAD + TABLES["drill"], ROOT / "made.toml").operations[0].plan_input.lathe, {})
    assert set(operation.set_up_keys) <= {row.key for row in rows if not isinstance(row, str)}
