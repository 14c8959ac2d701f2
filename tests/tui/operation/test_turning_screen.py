"""The forms of turning, facing and grooving: a diameter, a bore, any other slide."""

from pathlib import Path

import pytest

from core.jobs.job import read_job
from core.operations.registry import operation_of
from tests.conftest import MakeApp
from tests.tui.made_up import Begun, fill, opened, press, wrong
from tests.tui.painted import painted
from tui.board.job_actions import screen_for
from tui.operation.form import OperationForm
from tui.widgets.quantity_field import QuantityField

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
METRIC, INCH = SAMPLES / "metric_lathe.toml", SAMPLES / "inch_lathe.toml"


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> Begun:
    """Record the input of a started run without starting the run."""
    noted = Begun()
    monkeypatch.setattr("tui.runs.start_without_job", noted.begin)
    return noted


async def test_a_turning_operation_can_be_entered_with_the_number_pad_alone(make: MakeApp, begun: Begun) -> None:
    """From 30 to 28 mm, a dial that reads diameter ends at 2.00 and the cut takes 1 mm off the radius."""
    async with opened(make, screen_for("turn"), lathe=METRIC, size=(120, 36)) as (pilot, _screen):
        await press(pilot, *"30", "enter", *"28", "enter", "enter", *"0.5", "enter")
        shown = painted(pilot.app)
        assert " 2.00 mm" in shown and " 1 mm " in shown
        # Past the fields that may stay empty, to the first action.
        await press(pilot, *["enter"] * 10)
    wanted = {"kind": "turn", "name": "Turn 30 to 28 mm", "from": "30 mm", "to": "28 mm", "cut": "0.5 mm"}
    assert [plan_input.parameters for plan_input in begun] == [wanted]


DECLARED = [
    (path.stem, operation.number)
    for path in sorted(SAMPLES.glob("*.toml"))
    if not path.stem.endswith("_lathe")
    for operation in read_job(path).operations
    if operation_of(operation.kind).form
]


@pytest.mark.parametrize(("job", "number"), DECLARED)
async def test_editing_an_operation_of_any_kind_with_declared_fields_shows_its_saved_values(
    make: MakeApp, job: str, number: int
) -> None:
    """For each kind that declares its fields, the texts are unchanged and the plan equals the job's plan."""
    path = SAMPLES / f"{job}.toml"
    operation = read_job(path).operations[number - 1]
    async with opened(make, screen_for(operation.kind, operation.plan_input.parameters), job=path) as (_, screen):
        assert screen.plan_input == operation.plan_input
        assert screen.plan == operation.plan


async def test_a_shoulder_that_would_undercut_another_is_refused_at_the_field_of_its_end(make: MakeApp) -> None:
    """25 mm to 40 mm would undercut 30 mm, which ends at 22 mm."""
    async with opened(make, screen_for("shoulders"), lathe=METRIC) as (pilot, screen):
        for key, text in {"from": "40", "diameter_1": "30", "ends_at_1": "22", "cut": "1"}.items():
            await fill(pilot, key, text)
        await fill(pilot, "diameter_2", "25")
        await fill(pilot, "ends_at_2", "40")
        await pilot.pause()
        assert "undercut" in screen.query_one("#field-ends_at_2", QuantityField).error
        assert not screen.query_one("#field-diameter_2", QuantityField).error


async def test_converting_a_typed_fit_replaces_its_name_with_its_size_limits(make: MakeApp) -> None:
    """30 g6 stays as typed.

    F12 puts its limits (ISO 286-1: -7 and -20 um) into that field and one size into the other.
    """
    async with opened(make, screen_for("turn"), lathe=METRIC) as (pilot, screen):
        await fill(pilot, "from", "31")
        await fill(pilot, "to", "30 g6")
        await fill(pilot, "cut", "0.5")
        assert screen.plan_input.parameters["to"] == "30 g6"
        assert screen.suggested_name() == "Turn 31 mm to 30 g6"
        screen.query_one("#field-to", QuantityField).focus()
        await press(pilot, "f12", "enter", "enter")
        assert screen.plan_input.parameters["to"] == "29.98 to 29.993 mm"
        screen.query_one("#field-from", QuantityField).focus()
        await press(pilot, "f12", *"31 h9", "enter", "enter")
        assert " to " not in screen.plan_input.parameters["from"]


async def test_a_diameter_without_a_unit_is_read_as_inches_on_an_inch_lathe(make: MakeApp) -> None:
    """A fraction without a unit is inches. Millimetres can be entered with their unit."""
    async with opened(make, screen_for("turn"), lathe=INCH) as (pilot, screen):
        await fill(pilot, "from", "1 1/4")
        await fill(pilot, "to", "31 mm")
        await fill(pilot, "cut", "0.02")
        parameters = screen.plan_input.parameters
        assert (parameters["from"], parameters["to"], parameters["cut"]) == ("1 1/4 in", "31 mm", "0.02 in")


async def test_each_error_in_the_turning_form_is_shown_beside_its_field(make: MakeApp, begun: Begun) -> None:
    """The error is shown at no other field, and no run can start. A bore's wanted diameter must be the larger one."""
    table = {"from": "30 mm", "to": "28 mm", "cut": "0.5 mm"}
    async with opened(make, screen_for("turn", table), lathe=METRIC) as (pilot, screen):
        for key, text, right in (
            ("to", "31", "28"),
            ("to", "29.99", "28"),
            ("finish", "3", ""),
            ("cut", "0", "0.5"),
            ("from", "", "30"),
        ):
            assert screen.ready and wrong(screen) == set()
            await fill(pilot, key, text)
            assert wrong(screen) == {key}, text
            await press(pilot, "f5")
            assert begun == [] and not screen.ready
            await fill(pilot, key, right)
        screen.query_one(OperationForm).choices["side"][1].focus()
        await press(pilot, "plus")
        assert wrong(screen) == {"to"}
        await fill(pilot, "to", "32")
        assert screen.plan_input.parameters["side"] == "inside" and screen.ready
        assert screen.suggested_name().startswith("Bore ")


async def test_the_facing_form_offers_only_slides_that_can_move_along_the_bed(make: MakeApp) -> None:
    """The slides offered are carriage and compound, never the cross-slide. The fields depend on the chosen amount."""
    async with opened(make, screen_for("face"), lathe=METRIC, size=(120, 36)) as (pilot, screen):
        for key, text in (("remove", "2"), ("cut", "0.5")):
            await fill(pilot, key, text)
        assert screen.plan_input.parameters["dial"] == "carriage" and screen.plan_input.parameters["remove"] == "2 mm"
        assert screen.ready
        screen.query_one(OperationForm).choices["by"][1].focus()
        await press(pilot, "right")
        for key, text in (("length_now", "60"), ("length", "61")):
            await fill(pilot, key, text)
        assert wrong(screen) == {"length"}
        await fill(pilot, "length", "58")
        assert screen.ready and "remove" not in screen.plan_input.parameters
        assert screen.plan_input.parameters["length"] == "58 mm"


async def test_a_groove_can_be_entered_by_its_diameter_or_by_its_depth(make: MakeApp) -> None:
    """Two diameters show the side of the groove. With a depth the form asks for the side."""
    async with opened(make, screen_for("groove"), lathe=METRIC, size=(120, 36)) as (pilot, screen):
        for key, text in (("diameter_now", "20"), ("diameter", "23"), ("cut", "0.5")):
            await fill(pilot, key, text)
        assert screen.ready and "side" not in screen.plan_input.parameters
        screen.query_one(OperationForm).choices["by"][1].focus()
        await press(pilot, "right")
        await fill(pilot, "depth", "1.5")
        assert screen.ready and screen.plan_input.parameters["depth"] == "1.5 mm"


async def test_facing_cannot_be_started_on_a_lathe_without_a_dial(make: MakeApp, tmp_path: Path) -> None:
    """The form says which dial is missing."""
    lathe = tmp_path / "lathe.toml"
    lathe.write_text('format = 1\nname = "Bare"\n')
    table = {"remove": "2 mm", "cut": "0.5 mm"}
    async with opened(make, screen_for("face", table), lathe=lathe, size=(120, 36)) as (_, screen):
        assert not screen.ready and screen.plan is None
