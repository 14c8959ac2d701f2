"""The form of a pattern: layers entered by keyboard, a calculated size, errors, and the drawing."""

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from core.jobs.job import read_job
from core.lathe.lathe import Cutter
from core.lathe.reader import read_lathe
from core.operations.form import Figure
from core.operations.registry import PlanInput, parameters_of
from tests.conftest import MakeApp
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import pattern_keys
from tests.core.planned import make_plan
from tests.tui.made_up import Begun, fill, opened, press, said, wrong
from tests.tui.painted import foreign, painted
from tui.glyphs import ASCII_SAFE
from tui.operation.screen import OperationScreen
from tui.pattern.fields import CONDITIONS
from tui.pattern.figures import layer_figures
from tui.pattern.form import CutterList, LayerList, PatternForm
from tui.pattern.screen import PatternScreen
from tui.terminal import Terminal
from tui.widgets.quantity_field import QuantityField
from tui.widgets.question import YesNo

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
LATHE = SAMPLES / "mixed_lathe.toml"
JOB = SAMPLES / "hour_lines.toml"
ONE: dict[str, Any] = pattern_keys({"count": 36, "offset": "20 mm", "circle_radius": "12 mm"}, tip_angle="90 deg")


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> Begun:
    """Record the input of a started run without starting the run."""
    noted = Begun()
    monkeypatch.setattr("tui.runs.start_without_job", noted.begin)
    return noted


def three_layers() -> PatternScreen:
    """Return the form with layers of 5, 6 and 7 circles."""
    layers = [{"count": count, "offset": "20 mm", "circle_radius": "3 mm", "depth": "0.4 mm"} for count in (5, 6, 7)]
    return PatternScreen(pattern_keys(*layers, tip_angle="90 deg"))


def counts(screen: OperationScreen) -> list[Any]:
    """Return the counts of the layers in the operation's keys and values."""
    return [layer.get("count") for layer in screen.plan_input.parameters["layer"]]


def further_figures(screen: OperationScreen) -> list[Figure]:
    """Return the figures that follow the cautions."""
    assert screen.plan is not None
    return list(screen.further_figures(screen.plan))


def field(screen: OperationScreen, key: str) -> QuantityField[str]:
    """Return the field of a key."""
    return screen.query_one(PatternForm).entries[key][1]


async def test_editing_a_pattern_operation_shows_its_saved_values(make: MakeApp) -> None:
    """The fields show the layers' texts unchanged, and the plan equals the job's plan."""
    operation = read_job(JOB).operations[-1]
    async with opened(make, PatternScreen(operation.plan_input.parameters), job=JOB) as (pilot, screen):
        assert screen.plan_input == operation.plan_input
        assert screen.plan == operation.plan
        screen.query_one(LayerList).focus()
        await press(pilot, "down")
        assert screen.plan_input == operation.plan_input
        assert field(screen, "skip").text == "10, 20, 30"


async def test_a_pattern_of_two_layers_can_be_entered_with_the_keyboard_alone(make: MakeApp, begun: Begun) -> None:
    """Two layers are entered and then counted. The keys and values equal those of a job file."""
    async with opened(make, PatternScreen(), lathe=LATHE, size=(80, 24)) as (pilot, screen):
        await fill(pilot, "tip_angle", "60")
        await fill(pilot, "count", "12")
        await fill(pilot, "offset", "20")
        await press(pilot, "enter", "enter", "right", "enter")
        await fill(pilot, "depth", "0.4")
        await fill(pilot, "skip", "every 4th")
        screen.query_one(LayerList).focus()
        await press(pilot, "end", "enter")
        await fill(pilot, "count", "8")
        await fill(pilot, "offset", "11")
        await press(pilot, "f5")
    first = {"shape": "circles", "count": 12, "offset": "20 mm", "meet": "points"}
    first |= {"depth": "0.4 mm", "skip": [4, 8, 12]}
    second = {**first, "count": 8, "offset": "11 mm", "skip": [4, 8]}
    assert [plan_input.parameters["layer"] for plan_input in begun] == [[first, second]]
    assert begun[0].parameters["cutter"][0]["tip_angle"] == "60 deg" and "face_runout" not in begun[0].parameters


async def test_the_fill_in_keys_enter_the_calculated_radius_offset_or_count(make: MakeApp) -> None:
    """For 36 touching circles the radius, the offset or the count is empty. One key fills in the answer."""
    cases: list[tuple[str, str, dict[str, str], float]] = [
        ("circle_radius", "equals_sign", {"count": "36", "offset": "20"}, 20 * math.sin(math.pi / 36)),
        ("offset", "asterisk", {"count": "36", "circle_radius": "5"}, 5 / math.sin(math.pi / 36)),
        ("count", "equals_sign", {"offset": "20", "circle_radius": "2"}, math.floor(math.pi / math.asin(2 / 20))),
    ]
    async with opened(make, PatternScreen(), lathe=LATHE) as (pilot, screen):
        for key, fill_in, others, expected in cases:
            for other, text in {key: "", **others}.items():
                if field(screen, other).text != text:
                    await fill(pilot, other, text)
            field(screen, key).focus()
            assert not screen.ready
            await press(pilot, fill_in)
            assert screen.ready
            found = str(screen.plan_input.parameters["layer"][0][key]).split()[0]
            assert float(found) == pytest.approx(expected, abs=6e-5)


async def test_the_equals_key_fills_in_the_calculated_radius_from_every_field(make: MakeApp) -> None:
    """Number fields and the field of skipped positions accept neither = nor *."""
    async with opened(make, PatternScreen(), lathe=LATHE) as (pilot, screen):
        await fill(pilot, "count", "36")
        await fill(pilot, "offset", "20")
        for key in ("tip_angle", "start", "depth", "skip", "tilt"):
            if field(screen, "circle_radius").text:
                await fill(pilot, "circle_radius", "")
            assert not screen.ready
            field(screen, key).focus()
            await press(pilot, "equals_sign")
            assert screen.ready, key


async def test_a_size_left_empty_is_calculated_from_the_chosen_condition(make: MakeApp) -> None:
    """The choice names the condition from which the empty size is calculated."""
    given = pattern_keys({"count": 12, "offset": "20 mm", "depth": "0.5 mm"}, tip_angle="90 deg")
    async with opened(make, PatternScreen(given), lathe=LATHE) as (pilot, screen):
        form = screen.query_one(PatternForm)
        exact = 0.0
        for less in (0.0, 0.5):
            form.choices["condition"][1].focus()
            await press(pilot, "right")
            assert screen.ready and "meet" in screen.plan_input.parameters["layer"][0]
            exact = 20 * math.sin(math.pi / 12) - less
            assert field(screen, "circle_radius").hint.startswith(f"({math.floor(exact * 1e4) / 1e4:g} mm")
        await press(pilot, "equals_sign")
        layer = screen.plan_input.parameters["layer"][0]
        filled = float(layer["circle_radius"].split()[0])
        # Rounded down: grooves that should meet never cross.
        assert exact - 1e-4 < filled <= exact and "meet" not in layer


async def test_layers_of_a_pattern_can_be_added_moved_and_removed(make: MakeApp) -> None:
    """In the list, a, n, b and x act on layers, and the fields follow. The only layer cannot be deleted."""
    async with opened(make, three_layers(), lathe=LATHE) as (pilot, screen):
        screen.query_one(LayerList).focus()
        await press(pilot, "down", "n")
        assert counts(screen) == [5, 7, 6]
        await press(pilot, "b", "b")
        assert counts(screen) == [6, 5, 7]
        await press(pilot, "x")
        assert counts(screen) == [5, 7]
        await press(pilot, "a")
        assert counts(screen) == [5, 5, 7]
        await press(pilot, "delete", "delete", "delete")
        assert len(counts(screen)) == 1 and said(pilot.app)
        await press(pilot, *["insert"] * 12)
        assert len(counts(screen)) == 12 and said(pilot.app)


async def test_closing_a_form_with_a_changed_pattern_asks_for_confirmation(make: MakeApp) -> None:
    """Moving a layer counts as a change."""
    async with opened(make, three_layers(), lathe=LATHE) as (pilot, screen):
        screen.query_one(LayerList).focus()
        await press(pilot, "n", "escape")
        assert isinstance(pilot.app.screen, YesNo)


async def test_each_error_in_a_pattern_is_shown_beside_its_field(make: MakeApp, begun: Begun) -> None:
    """The error is shown at no other field, and no run can start. A cutter must not cut beyond the centre."""
    cases = (
        ("count", "0", "36"),
        ("offset", "0", "20"),
        ("skip", "evry 4", ""),
        ("skip", "40", ""),
        ("tip_angle", "180", "90"),
        ("depth", "-1", ""),
    )
    async with opened(make, PatternScreen(ONE), lathe=LATHE) as (pilot, screen):
        for key, text, right in cases:
            assert screen.ready and wrong(screen) == set()
            await fill(pilot, key, text)
            assert wrong(screen) == {key}, text
            await press(pilot, "f5")
            assert begun == [] and not screen.ready
            await fill(pilot, key, right)
        # Nothing fits: a cutter of 12 mm with its layer 5 mm off the axis, and the count left open.
        for key, text in (("offset", "5"), ("count", "")):
            await fill(pilot, key, text)
        form = screen.query_one(PatternForm)
        assert not screen.ready and form.answer is None and "12 mm" in form.refusal


async def test_an_error_in_another_layer_is_marked_in_the_list_of_layers(make: MakeApp) -> None:
    """The list marks the layer, and no field shows the error. Selecting the layer shows the error beside the field."""
    async with opened(make, three_layers(), lathe=LATHE) as (pilot, screen):
        await fill(pilot, "depth", "0")
        screen.query_one(LayerList).focus()
        await press(pilot, "down")
        assert "1: ! 5 " in painted(pilot.app)
        assert wrong(screen) == set() and not screen.ready
        await press(pilot, "up")
        assert wrong(screen) == {"depth"}


async def test_the_pattern_form_shows_the_figures_the_effects_of_errors_and_the_picture(make: MakeApp) -> None:
    """The page shows spacing, overlap, grooves, dial settings, layer positions, effects of errors and the pattern."""
    operation = read_job(JOB).operations[-1]
    async with opened(make, PatternScreen(operation.plan_input.parameters), job=JOB, size=(120, 50)) as (pilot, screen):
        shown = painted(pilot.app)
        for words in ("7.108 mm", "0.8 mm", "13 turns", "1.00 mm", "0.028 in", "0.022"):
            assert words in shown
        await fill(pilot, "face_runout", "0.1")
        assert screen.plan is not None
        # 0.4 mm deep and 0.1 mm out at most: the groove of a 90 degree point is 0.6 to 0.8 mm wide.
        assert sum("0.6 to 0.8 mm wide" in figure.value for figure in further_figures(screen)) == 2
        cautions = screen.cautions(screen.plan)
        await fill(pilot, "face_runout", "0.5")
        bare = set(screen.cautions(screen.plan)) - set(cautions)
        assert any("0.5 mm" in caution and "0.4 mm" in caution for caution in bare)
        await press(pilot, "f6", "f6", "f6")
        assert sum("\u2800" < letter <= "\u28ff" for letter in painted(pilot.app)) > 200


async def test_a_refused_choice_shows_its_message_below_the_choice(make: MakeApp) -> None:
    """A table without plates cannot use plates. The message is below that choice, and another choice removes it."""
    given = pattern_keys({"count": 12, "offset": "20 mm", "circle_radius": "3 mm"}, tip_angle="90 deg") | {
        "with": "plate"
    }
    async with opened(make, PatternScreen(given), lathe=LATHE, size=(80, 40)) as (pilot, screen):
        choice = screen.query_one(PatternForm).choices["with"][1]
        assert choice.error and not screen.ready
        assert choice.error.split(".")[0] in " ".join(painted(pilot.app).split())
        choice.focus()
        await press(pilot, "left")
        assert not choice.error and screen.ready and choice.size.height == 1


async def test_the_settings_page_of_the_form_lists_the_dial_readings_of_every_position(make: MakeApp) -> None:
    """Position 4 of 30 on a 90 to 1 table is 36 deg, which is 9 turns of the handle. The slide is listed too."""
    operation = read_job(JOB).operations[-1]
    async with opened(make, PatternScreen(operation.plan_input.parameters), job=JOB, size=(99, 40)) as (pilot, screen):
        await press(pilot, "f6", "f6")
        assert screen.page == "settings"
        rows = [" ".join(line.split()) for line in painted(pilot.app).splitlines()]
        assert any("1 4 9 turns 0°00' 17 turns and 0.00 mm" in row for row in rows)


async def test_cutters_of_a_pattern_can_be_added_named_and_removed(make: MakeApp) -> None:
    """Adding a second cutter assigns the layers to the first. Layers follow a new name. Key x deletes a cutter."""
    async with opened(make, three_layers(), lathe=LATHE) as (pilot, screen):
        screen.query_one(CutterList).focus()
        await press(pilot, "end", "enter")
        await fill(pilot, "name", "only too")
        await fill(pilot, "tip_angle", "120")
        form = screen.query_one(PatternForm)
        form.choices["nose"][1].focus()
        await press(pilot, "right", "right")
        await fill(pilot, "tip_radius", "0.3")
        form.choices["cutter"][1].focus()
        await press(pilot, "right")
        table = form.table()
        assert table["cutter"] == [
            {"name": "only", "tip_angle": "90 deg"},
            {"name": "only too", "tip_angle": "120 deg", "tip_radius": "0.3 mm"},
        ]
        assert [layer.get("cutter") for layer in table["layer"]] == ["only too", "only", "only"]
        screen.query_one(CutterList).focus()
        await press(pilot, "up")
        await fill(pilot, "name", "first")
        assert [layer.get("cutter") for layer in form.table()["layer"]] == ["only too", "first", "first"]
        screen.query_one(CutterList).focus()
        await press(pilot, "x")
        table = form.table()
        assert [cutter["name"] for cutter in table["cutter"]] == ["only too"]
        assert [layer.get("cutter") for layer in table["layer"]] == ["only too", None, None]


async def test_a_cutter_in_the_lathe_file_is_offered_by_name_in_the_pattern_form(make: MakeApp) -> None:
    """A layer can use it, and the pattern then needs no cutter of its own."""
    async with opened(make, PatternScreen({}), lathe=LATHE) as (_, screen):
        lathe = replace(screen.context.lathe, cutters=(Cutter("engraver", 60), Cutter("ball", 90, tip_radius_mm=1)))
        form = PatternForm(lathe, {}, ())
        _, field_of_cutter = form.choices["cutter"]
        assert field_of_cutter.words == ("not chosen", "engraver", "ball") and form.cutters == []
        form = PatternForm(lathe, {"layer": [{"shape": "dots", "cutter": "ball", "count": 3, "offset": "9 mm"}]}, ())
        assert form.chosen("cutter") == "ball"


async def test_every_field_of_the_pattern_form_can_be_reached_on_a_40_by_12_screen(make: MakeApp) -> None:
    """Down moves from the first field to the last, and the focused field is always in sight."""
    async with opened(make, three_layers(), lathe=LATHE, size=(40, 12)) as (pilot, screen):
        seen = set()
        for _ in range(40):
            focused = screen.focused
            assert focused is not None
            seen.add(focused.id or (focused.parent.id if focused.parent else ""))
            assert focused.region.overlaps(screen.query_one("#left").region)
            if focused.id == "actions":
                break
            await pilot.press("down")
            await pilot.pause()
        wanted = {f"field-{key}" for key in ("tip_angle", "count", "offset", "circle_radius", "skip", "cut", "tilt")}
        assert wanted | {"layers", "actions"} <= seen


async def test_the_pattern_form_uses_only_ascii_characters_on_an_ascii_terminal(make: MakeApp) -> None:
    """In plain ASCII every page from fields to pictures has only plain characters, including the pattern."""
    terminal, safe = Terminal(charset="ascii", dots="ascii"), ASCII_SAFE
    operation = read_job(JOB).operations[-1]
    async with opened(make, PatternScreen(operation.plan_input.parameters), job=JOB, terminal=terminal) as (
        pilot,
        screen,
    ):
        for _ in range(5):
            assert foreign(pilot.app, safe) == set()
            if screen.page == "pictures":
                assert painted(pilot.app).count("*") > 100
            await press(pilot, "f6")


@pytest.mark.parametrize("name", ["sundial_lid", "sundial_base", "gnomon_plate"])
async def test_a_pattern_of_any_shape_is_opened_and_saved_unchanged(make: MakeApp, name: str) -> None:
    """Rings of rings, a spiral, slots, dots, a border: no key is lost, whichever layer is shown, and all are right."""
    job = SAMPLES / f"{name}.toml"
    operation = read_job(job).operations[-1]
    async with opened(make, PatternScreen(operation.plan_input.parameters), job=job, size=(80, 40)) as (pilot, screen):
        assert screen.plan_input == operation.plan_input
        screen.query_one(LayerList).focus()
        for _ in operation.plan_input.parameters["layer"]:
            await press(pilot, "down")
            assert screen.plan_input == operation.plan_input and wrong(screen) == set()


RADII = {
    # Twelve circles at 20 mm, 0.4 mm deep with a point of 90 degrees: grooves 0.8 mm wide, half a spacing 5.17638 mm.
    "points meet": ("", 5.17638),
    "grooves meet": ("", 4.77638),
    "points overlap by": ("1", 5.67638),
    "land between": ("0.5", 4.52638),
    "touches neighbour": ("3", 20 * math.sin(math.pi / 4)),
    "inner radius of points": ("15", 5),
    "outer radius of points": ("25", 5),
    "inner radius of edges": ("15", 4.6),
    "outer radius of edges": ("25", 4.6),
}


async def test_each_condition_determines_a_circle_radius_that_is_left_empty(make: MakeApp) -> None:
    """Expected values by hand: sums and differences of offset, half the spacing, and half the width of a groove."""
    given = pattern_keys({"count": 12, "offset": "20 mm", "depth": "0.4 mm"}, tip_angle="90 deg")
    async with opened(make, PatternScreen(given), lathe=LATHE) as (pilot, screen):
        form = screen.query_one(PatternForm)
        for words, (text, radius_mm) in RADII.items():
            form.choices["condition"][1].focus()
            await press(pilot, "right")
            assert form.chosen("condition") == words
            for key in CONDITIONS.values():
                if form.entries[key][1].display:
                    await fill(pilot, key, text)
            assert screen.ready, words
            shown = float(field(screen, "circle_radius").hint.removeprefix("(").split()[0])
            assert radius_mm - 1.1e-4 < shown < radius_mm + 1e-6, words


def _figures_of(*layers: dict[str, Any], **keys: Any) -> dict[str, Figure]:
    """Return the figures of a pattern on the sample lathe, whose cross-slide has graduations of 0.02 mm of travel."""
    lathe = read_lathe(LATHE)
    table = {"kind": "pattern", "name": "It", **pattern_keys(*layers, tip_angle="90 deg", **keys)}
    plan = make_plan(PlanInput("pattern", table, lathe, None))
    job = parameters_of(PlanInput("pattern", table, lathe, None))
    return {figure.name.strip(): figure for figure in layer_figures(job, plan, lathe)}


@pytest.mark.parametrize("side", ["near", "far"])
@pytest.mark.parametrize(("offset", "far_out"), [("38.644 mm", False), ("38.636 mm", True)])
def test_the_figures_show_the_error_of_rounding_the_offset_to_a_dial_mark(
    side: str, offset: str, far_out: bool
) -> None:
    """12 circles at 38.636 mm are set to 38.64: 0.004 mm out, and neighbours 2 x 0.004 sin 15 deg = 0.002 mm apart."""
    layer = {"count": 12, "offset": offset, "circle_radius": "9 mm", "depth": "0.4 mm"}
    row = _figures_of(layer, offset_side=side)["on dial marks"]
    assert ("too far out" in row.value) == far_out and ("further apart" in row.note) == far_out
    assert figures(row.value) == {"0.004"} and figures(row.note) == {"0.002"}
    assert "on dial marks" not in _figures_of(layer | {"offset": "38.64 mm"})


def test_figures_and_cautions_mention_a_layer_without_a_depth() -> None:
    """Without a depth the counter only leads from position to position."""
    layer = {"count": 12, "offset": "30 mm", "circle_radius": "9 mm"}
    assert _figures_of(layer)["depth"].value == "none"
    table = {"kind": "pattern", "name": "It", **pattern_keys(layer, {**layer, "depth": "0.3 mm"})}
    lathe = read_lathe(LATHE)
    (some,) = [one for one in make_plan(PlanInput("pattern", table, lathe, None)).cautions if "no depth" in one]
    assert some.startswith("Layer 1 has no depth")
    table = {"kind": "pattern", "name": "It", **pattern_keys(layer)}
    assert "No depth is entered" in make_plan(PlanInput("pattern", table, lathe, None)).cautions[0]
