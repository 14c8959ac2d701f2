"""Cautions: the general ones with every plan, at most one at a step, and never the same one twice.

All of this is common practice, no source.
"""

from collections import Counter
from collections.abc import Mapping, Sequence

import pytest

from core import safety
from core.cutting import Progress, progress_of
from core.inputs import Measured, Moved
from core.jobs.card import card_data
from core.jobs.job import read_job
from core.lathe.lathe import Lathe
from core.lathe.reader import lathe_from
from core.operations.registry import OPERATIONS, PlanInput, operation_of, parameters_of, replan
from core.pages.card_page import card_markdown, card_text
from core.plan import Plan, Step, plan_as_data, plan_from_data
from core.safety import AT_THE_MACHINE, STOP_FIRST, UNSCREWS
from core.values.errors import FileError
from tests.core.planned import make_plan
from tests.golden.keeping import SAMPLES, sources

MATERIALS: Mapping[str | None, tuple[str, ...]] = {
    None: (),
    "mild steel": (),
    "aluminium": (),
    "cast bronze": ("mask",),
    "grey cast iron": ("mask",),
    "wood": ("mask",),
    "horn": ("mask",),
    "leaded brass": ("wash your hands",),
    "zinc-coated steel": ("fumes",),
}
"""Words that the cautions of a material must have, in addition to the usual ones."""
ALWAYS = (
    *("eye protection", "gloves", "chuck key", "foot switch", "isolate its drive to measure, deburr"),
    *("swarf with a hook", "in a bore", "local rules"),
)
IN_THE_CHUCK = ("turn the work once by hand", "unbalanced work", "stick-out", "over 4 use a centre", "over 10 a steady")
ON_THE_TABLE = ("turn the table once round by hand", "clamps, jaws and crank must clear")
GENERAL: Mapping[str, tuple[str, ...]] = {
    "runout": ("indicator and its base off before you switch on",),
    "axes": ("indicator and its base off before you switch on",),
    "square": ("indicator and its base off before you switch on",),
    "grind": ("guard on", "rest within 3 mm", "stand aside"),
    "divide": ON_THE_TABLE,
    "pattern": (*ON_THE_TABLE, "each new radius, offset and depth", "out of the plane", "none suggested", "mask"),
    "holes": (),
}
"""Words that the general cautions must have, for kinds of work that the spindle does not turn."""
AT_STEPS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "thread": (
        ("Chamfer the end", "A file or scraper on turning work catches"),
        ("Open the end of the bore", "A file or scraper on turning work catches"),
        ("Relief (undercut)", "set it short, on centre"),
        ("Bore:", "Keep fingers, rags and brushes out of a turning bore"),
        ("tool just touches", "Never hold it against turning work"),
        ("Scratch pass", "let the spindle stop, and only then reverse"),
        ("measure at both ends", "hold rag, brush or emery to it"),
    ),
    "turn": (("tool just touching", "Never hold it against turning work"),),
    "face": (("tool just touches", "Never hold it against turning work"),),
    "groove": (
        ("where the groove comes", "set it short, on centre"),
        ("tool just touches", "Never hold it against turning work"),
    ),
    "drill": (
        ("Centre drill", "Centre drills snap"),
        ("with the quill wound in", "lock the tailstock"),
        ("its full diameter just reaches", "Keep hands on the tailstock"),
        ("drill: tailstock to", "never hand or rag"),
        ("reamer: tailstock", "Never turn a reamer backwards"),
        ("Tap M", "Isolate the drive and tap by hand only"),
        ("See that the full diameter is through", "Keep fingers, rags and brushes out of a turning bore"),
    ),
    "runout": (
        ("Mark the work", "Turn the spindle by hand only"),
        ("what to move", "tighten the jaws, remove the key"),
    ),
    "divide": (("tool just touching", "Never hold it against turning work"), ("1 of ", "before you turn the table")),
    "pattern": (
        ("swung by hand", "indicator and its base off"),
        ("by rule", "key out, screws and drawbar tight, tool kept short"),
        ("trial circle on scrap", "out of the plane of the head"),
        ("1 of ", "before you turn the table"),
    ),
    "holes": (("Spot", "Clamp the work"),),
    "grind": (
        ("Draw a fine file", "wrap it before you file"),
        ("Clamp the blank", "never in the fingers"),
        ("Measure across flat", "Let its wheel stop"),
        ("Lay a fine stone", "stone away from it"),
        ("in its collet", "Set the cutter short"),
        ("in the boring head", "must clear the work"),
    ),
    "by_hand": (("", "before a hand, file or scraper comes near"),),
}
"""Pairs of words of a step's text and words of its caution. The first such step of every plan must have the caution.

A kind of operation that is not here has such pairs in its own tests.
"""
HANDS_AT_THE_WORK = (
    "Scratch pass",
    "Bore:",
    "Deburr",
    "measure between",
    "Count ",
    "Inspect the pattern",
    "Mark two lines",
    "Indicator: ",
    "Blue it",
    "Correct the angle",
)
"""Words of steps at which a hand comes near the tool, apart from measuring steps."""
LEAST_APART = 10_000
"""The least number of steps between a caution and its repetition. No plan has that many steps."""


def every_plan_input() -> dict[str, PlanInput]:
    """Return the plan inputs of all samples and of all golden jobs, by name."""
    found = {}
    for name, path in sources().items():
        try:
            job = read_job(path)
        except FileError:
            continue
        for operation in job.operations:
            found[f"{name} {operation.number} {operation.kind}"] = operation.plan_input
    return found


BASES = every_plan_input()
SAMPLE_NAMES = {path.stem for path in SAMPLES.glob("*.toml")}
SAMPLE_BASES = {name: plan_input for name, plan_input in BASES.items() if name.split()[0] in SAMPLE_NAMES}


def said(cautions: Sequence[str]) -> str:
    """Return all cautions of a plan as one text."""
    return " ".join(cautions).casefold()


def after(plan: Plan, done: int) -> Progress:
    """Return the progress of a run after its first steps."""
    return progress_of(plan.steps[:done], plan.steps[done:], len(plan.steps) + 1)


def with_lathe(plan_input: PlanInput, **spindle: object) -> PlanInput:
    """Return a plan input on the same lathe with another spindle."""
    data = {**plan_input.lathe.data, "spindle": {**plan_input.lathe.data.get("spindle", {}), **spindle}}
    return plan_input._replace(lathe=lathe_from(data, plan_input.lathe.name))


def test_the_sample_jobs_contain_every_kind_of_operation() -> None:
    """The tests below cover every kind only if the samples do. A new kind must be added to the samples."""
    assert {plan_input.kind for plan_input in SAMPLE_BASES.values()} == set(OPERATIONS)


def _of_its_kind(plan_input: PlanInput) -> tuple[str, ...]:
    """Return the words of a kind of work. A pattern without circles is cut from a collet."""
    layers = plan_input.parameters.get("layer", ())
    if layers and not any(layer["shape"] == "circles" for layer in layers):
        return (*ON_THE_TABLE, "cutter in a collet", "mask")
    return GENERAL.get(plan_input.kind, IN_THE_CHUCK)


@pytest.mark.parametrize("name", SAMPLE_BASES)
def test_every_plan_has_the_general_cautions_for_its_kind_of_operation(name: str) -> None:
    """The cautions name eyes, hands, chuck key, foot switch and rules. The material adds dust, lead and zinc."""
    plan_input = SAMPLE_BASES[name]
    for material, of_material in MATERIALS.items():
        plan = make_plan(plan_input._replace(material=material))
        # Reading runout makes no chips and no dust.
        wanted = (
            *ALWAYS,
            *_of_its_kind(plan_input),
            *(() if plan_input.kind == "runout" else of_material),
        )
        words = said(plan.general)
        assert [word for word in wanted if word not in words] == [], material
        assert not set(plan.general) & set(plan.cautions)
        assert len(set(plan.general)) == len(plan.general)


@pytest.mark.parametrize("name", BASES)
def test_each_caution_of_a_plan_appears_once_and_alone_at_its_step(name: str) -> None:
    """No step has a general caution, and each caution fits two rows of 78 columns."""
    plan = make_plan(BASES[name])
    places: dict[str, int] = {}
    for place, step in enumerate(plan.steps):
        assert len(step.cautions) <= 1 and step.findings == (), step.text
        for caution in step.cautions:
            assert place - places.get(caution, -LEAST_APART) >= LEAST_APART, caution
            assert caution not in plan.general
            assert len(f"! {caution}") <= 2 * 78
            places[caution] = place


@pytest.mark.parametrize("name", BASES)
def test_removing_repeated_cautions_from_a_plan_loses_no_caution(name: str) -> None:
    """Every caution of the plan is still at one step."""
    plan_input = BASES[name]
    whole = operation_of(plan_input.kind).plan(parameters_of(plan_input), plan_input.lathe, plan_input.material)
    wanted = {caution for step in whole.steps for caution in step.cautions}
    assert wanted == {caution for step in make_plan(plan_input).steps for caution in step.cautions}


@pytest.mark.parametrize(("kind", "words"), [(kind, words) for kind, pairs in AT_STEPS.items() for _, words in pairs])
def test_each_caution_written_for_a_step_appears_in_a_plan_of_its_kind_of_operation(kind: str, words: str) -> None:
    """At least one step of every kind has the caution, however the step is worded."""
    plans = [make_plan(plan_input) for plan_input in BASES.values() if plan_input.kind == kind]
    assert any(words in caution for plan in plans for step in plan.steps for caution in step.cautions)


@pytest.mark.parametrize("name", BASES)
def test_a_step_that_brings_a_hand_near_the_work_has_a_caution(name: str) -> None:
    """Each such step has its caution. If a hand comes near the tool, the text starts with stopping the spindle."""
    plan_input = BASES[name]
    steps = make_plan(plan_input).steps
    for text, words in AT_STEPS.get(plan_input.kind, ()):
        at = next((at for at, step in enumerate(steps) if text in step.text), None)
        # If the readings came with the job, the moves come first and have the caution already.
        if at is not None:
            assert any(words in caution for step in steps[: at + 1] for caution in step.cautions), steps[at].text
    for step in steps:
        if plan_input.kind == "grind" and step.action == "measure":
            assert step.text.startswith("Switch the grinder off."), step.text
        elif step.action == "measure" or any(words in step.text for words in HANDS_AT_THE_WORK):
            assert STOP_FIRST in step.text or "stop the spindle and isolate its drive" in step.text, step.text


def test_the_caution_about_reversing_comes_at_the_scratch_pass_and_not_at_the_dry_run() -> None:
    """The dry run of a thread turned by hand has this caution. Stopping before reversing comes at the next step."""
    # 5 mm of relief at a lead of 3.5 mm: at 70 rpm the relief passes in less than a second.
    table = {"kind": "thread", "name": "x", "thread": "M30x3.5-6g", "relief": "5 mm", "tool_flat": "0.30 mm"}
    lathe = BASES["sundial_arbor 3 thread"].lathe
    plan_input = with_lathe(PlanInput("thread", table, lathe), speeds=["200 rpm"], reaction_time="1 s")
    dry, scratch = (
        next(step for step in make_plan(plan_input).steps if step.text.startswith(words))
        for words in ("Dry", "Scratch")
    )
    assert "Turn the spindle by hand" in dry.cautions[0] and "only then reverse" in scratch.cautions[0]


@pytest.mark.parametrize(("nose", "can_unscrew"), [("screwed", True), ("cam", False), ("flange", False), (None, True)])
def test_only_a_screwed_on_chuck_gets_the_caution_about_unscrewing(nose: str | None, can_unscrew: bool) -> None:
    """A cam or a flange holds in reverse. An unknown nose counts as screwed."""
    for name in ("sundial_arbor 1 turn", "sundial_arbor 3 thread", "sundial_arbor 5 runout"):
        data = dict(BASES[name].lathe.data)
        data["spindle"] = {key: value for key, value in data["spindle"].items() if key != "nose"}
        lathe = lathe_from(data, "x")
        plan = make_plan(BASES[name]._replace(lathe=lathe) if nose is None else with_lathe(BASES[name], nose=nose))
        assert (UNSCREWS in plan.general) == can_unscrew


def test_the_caution_about_speed_names_the_highest_speed_of_the_chuck_if_known() -> None:
    """If the speed is not known, the caution names none."""
    plan_input = BASES["sundial_arbor 1 turn"]
    assert any(
        "never above 1800 rpm" in caution
        for caution in make_plan(with_lathe(plan_input, most_speed="1800 rpm")).general
    )
    assert any("none suggested" in caution for caution in make_plan(plan_input).general)


def test_a_dry_run_with_a_cutter_wider_than_the_blank_has_a_caution() -> None:
    """The groove of 50.8 mm is wider than the blank of 40 mm.

    The plan has this caution, and the dry run of the layer too.
    """
    plan_input = BASES["hour_lines 3 pattern"]
    layer = {"shape": "circles", "count": 6, "offset": "10 mm", "circle_radius": "25 mm", "depth": "0.4 mm"}
    plan = make_plan(
        plan_input._replace(parameters={**plan_input.parameters, "blank_diameter": "40 mm", "layer": [layer]})
    )
    words = "the cutter swings 50.8 mm across, beyond the blank of 40 mm. Keep clamps clear"
    assert any(words in caution for caution in plan.cautions)
    assert any(words in step.cautions[0] for step in plan.steps if "dry run" in step.text)


def test_no_caution_for_work_on_the_rotary_table_tells_the_user_to_turn_the_work() -> None:
    """The table is turned instead. No row about stopping the spindle has an exception."""
    for kind in ("divide", "pattern"):
        plan = make_plan(next(plan_input for plan_input in SAMPLE_BASES.values() if plan_input.kind == kind))
        everything = said(
            [*plan.general, *plan.cautions, *plan.movements, *(word for step in plan.steps for word in step.cautions)]
        )
        assert "turn the work" not in everything and "unless" not in everything


@pytest.mark.parametrize("kind", ["thread", "turn", "face", "groove", "taper", "drill", "divide", "pattern", "holes"])
def test_one_of_the_first_three_steps_after_a_move_of_the_work_isolates_the_drive(kind: str) -> None:
    """The drive is isolated before anything is turned by hand. Earlier cautions come again after the interruption."""
    plan_input = next(plan_input for plan_input in SAMPLE_BASES.values() if plan_input.kind == kind)
    plan = make_plan(plan_input)
    to_go = Measured(what="to go", size_mm=0.5)
    entered = Moved(size=to_go) if kind in {"turn", "face", "groove"} else Moved()
    if kind == "taper":
        entered = Moved(size=Measured(what="free end", size_mm=parameters_of(plan_input).small_mm))
    steps = replan(plan_input, after(plan, 5), entered)
    assert any("Isolate the drive" in step.text for step in steps[:3])
    assert all(len(step.cautions) <= 1 for step in steps)
    if kind in {"turn", "groove"}:
        assert "turn the work once round by hand" in steps[0].text and "Never hold it" in steps[0].cautions[0]
    if kind == "thread":
        assert any("before you switch on, turn the work a full turn by hand" in said(step.cautions) for step in steps)


def test_steps_that_are_planned_again_repeat_no_caution_of_finished_steps() -> None:
    """Steps planned from a measurement do not repeat cautions of finished steps."""
    plan_input = BASES["sundial_arbor 3 thread"]
    plan = make_plan(plan_input)
    at = [step.action for step in plan.steps].index("measure")
    steps = replan(plan_input, after(plan, at + 1), Measured(what="pitch diameter", size_mm=25.1))
    done = {caution for step in plan.steps[: at + 1] for caution in step.cautions}
    again = [caution for step in steps for caution in step.cautions]
    assert not done & set(again) and len(set(again)) == len(again)
    assert steps[0].findings[0].startswith("Pitch diameter 25.1 mm")


def test_each_general_caution_fits_one_row_of_the_start_page() -> None:
    """With the sign before it, a caution fits 78 columns. Users read only half of a wrapped caution."""
    usual = [caution for plan_input in BASES.values() for caution in make_plan(plan_input).general]
    usual += [
        getattr(safety, name) for name in dir(safety) if name.isupper() and isinstance(getattr(safety, name), str)
    ]
    assert [caution for caution in usual if len(f"! {caution}") > 78] == []


def test_the_card_shows_each_general_caution_once() -> None:
    """The card of the sample arbor has 38 rows of cautions as one list.

    12 of them are distinct, and one comes nine times.
    """
    job = read_job(SAMPLES / "sundial_arbor.toml")
    for text in (card_text(job, 200), card_markdown(job)):
        lines = [line.partition("! ")[2].rstrip(" |") for line in text.splitlines() if "! " in line]
        counts = Counter(lines)
        assert len(lines) <= 25 and len(counts) >= 19
        # Touching off belongs to three operations only. Every other caution comes once.
        assert [count for count in counts.values() if count > 1] == [3]
        assert all(counts[caution] == 1 for caution in AT_THE_MACHINE)
    data = card_data(job)["operations"]
    assert data[2]["cautions"] == [*job.operations[2].plan.cautions, *job.operations[2].plan.general]


def test_a_plan_logged_by_the_first_version_can_be_read() -> None:
    """Such a plan holds all its cautions in one list. All of them are shown."""
    plan = Plan(
        steps=(Step(id=1, action="check", text="x", findings=("found",)),), cautions=("own",), general=("usual",)
    )
    assert plan_from_data(plan_as_data(plan)) == plan
    old = plan_as_data(plan)
    del old["general"], old["steps"][0]["findings"]
    assert plan_from_data(old).cautions == ("own",) and plan_from_data(old).general == ()


def test_a_lathe_without_spindle_data_gets_the_more_careful_cautions() -> None:
    """Without nose and speeds the more careful cautions are shown."""
    table = {"kind": "by_hand", "name": "x", "text": "File it"}
    words = said(make_plan(PlanInput("by_hand", table, Lathe(name="bare"))).general)
    assert "none suggested" in words and "unscrew" in words
