"""Cautions: the general ones with every plan, at most one at a step, and never the same twice.

All of it is common practice, no source.
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
from core.operations.registry import OPERATIONS, PlanInput, make_plan, operation_of, parameters_of, replan
from core.pages.card_page import card_markdown, card_text
from core.plan import Plan, Step, plan_as_data, plan_from_data
from core.safety import AT_THE_MACHINE, STOP_FIRST, UNSCREWS
from core.values.errors import FileError
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
    "runout": ("indicator and its base off before power",),
    "axes": ("indicator and its base off before power",),
    "square": ("indicator and its base off before power",),
    "grind": ("guard on", "rest within 3 mm", "stand aside"),
    "divide": ON_THE_TABLE,
    "pattern": (*ON_THE_TABLE, "every new radius, offset and depth", "out of the plane", "none suggested", "mask"),
    "holes": (),
}
"""Words that the general cautions must have, for kinds of work that the spindle does not turn."""
AT_STEPS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "thread": (
        ("Chamfer the end", "a file or scraper on turning work catches"),
        ("Open the end of the bore", "a file or scraper on turning work catches"),
        ("Relief (undercut)", "slow, short, on centre"),
        ("Bore:", "No finger, rag or brush in a bore"),
        ("tool just touches", "never hold it by hand on turning work"),
        ("Scratch pass", "let the spindle stop, and only then reverse"),
        ("measure at both ends", "hold rag, brush or emery to it"),
    ),
    "turn": (("tool just touching", "never hold it by hand on turning work"),),
    "face": (("tool just touches", "never hold it by hand on turning work"),),
    "groove": (
        ("where the groove comes", "slow, short, on centre"),
        ("tool just touches", "never hold it by hand on turning work"),
    ),
    "drill": (
        ("Centre drill", "Centre drills snap"),
        ("with the quill wound in", "tailstock locked"),
        ("its full diameter just reaches", "Hands on the tailstock alone"),
        ("drill: tailstock to", "never by hand or rag"),
        ("reamer: tailstock", "Never turn a reamer backwards"),
        ("Tap M", "by hand only, drive isolated"),
        ("See that the full diameter is through", "No finger, rag or brush in a bore"),
    ),
    "runout": (
        ("Mark the work", "turn the spindle by hand only"),
        ("what to move", "chuck key out"),
    ),
    "divide": (("tool just touching", "never hold it by hand"), ("1 of ", "before you turn the table")),
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
        ("in its collet", "Cutter short in its collet"),
        ("in the boring head", "the cutter must clear"),
    ),
    "by_hand": (("", "before a hand, file or scraper comes near"),),
}
"""(words of a step's text, words of its caution): at the first such step of every plan that has one.

A kind that is not here has them in its own tests.
"""
HANDS_AT_THE_WORK = (
    "Scratch pass",
    "Bore:",
    "Deburr",
    "measure between",
    "Count ",
    "Look the pattern over",
    "Mark two lines",
    "Indicator: ",
    "Blue it",
    "Correct the angle",
)
"""Words of steps at which a hand comes beside the tool, other than those that measure."""
LEAST_APART = 10_000
"""How many steps a caution and the same again must be apart; no plan has so many."""


def every_plan_input() -> dict[str, PlanInput]:
    """Return what the operations of all samples and of all golden jobs are planned from, by name."""
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


def test_the_samples_contain_every_kind_of_operation() -> None:
    """So these tests cover every kind; a new one must be added to the samples."""
    assert {plan_input.kind for plan_input in SAMPLE_BASES.values()} == set(OPERATIONS)


def _of_its_kind(plan_input: PlanInput) -> tuple[str, ...]:
    """Return the words of a kind of work; a pattern without circles is cut from a collet."""
    layers = plan_input.parameters.get("layer", ())
    if layers and not any(layer["shape"] == "circles" for layer in layers):
        return (*ON_THE_TABLE, "cutter in a collet", "mask")
    return GENERAL.get(plan_input.kind, IN_THE_CHUCK)


@pytest.mark.parametrize("name", SAMPLE_BASES)
def test_every_plan_has_its_general_cautions(name: str) -> None:
    """Eyes, hands, chuck key, foot switch, whose rules decide; dust, lead and zinc by material."""
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
def test_a_step_has_at_most_one_caution_and_none_is_repeated(name: str) -> None:
    """None is a general one, and each fits two lines of 78 columns."""
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
def test_removing_repeated_cautions_loses_none(name: str) -> None:
    """Removing repeats loses no caution."""
    plan_input = BASES[name]
    whole = operation_of(plan_input.kind).plan(parameters_of(plan_input), plan_input.lathe, plan_input.material)
    wanted = {caution for step in whole.steps for caution in step.cautions}
    assert wanted == {caution for step in make_plan(plan_input).steps for caution in step.cautions}


@pytest.mark.parametrize(("kind", "words"), [(kind, words) for kind, pairs in AT_STEPS.items() for _, words in pairs])
def test_each_caution_is_at_a_step_of_some_plan(kind: str, words: str) -> None:
    """Some step of every kind has the caution, however the step is worded."""
    plans = [make_plan(plan_input) for plan_input in BASES.values() if plan_input.kind == kind]
    assert any(words in caution for plan in plans for step in plan.steps for caution in step.cautions)


@pytest.mark.parametrize("name", BASES)
def test_a_step_with_a_hand_near_the_work_has_a_caution(name: str) -> None:
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
            assert STOP_FIRST in step.text or "stop the spindle, isolate its drive" in step.text, step.text


def test_reversing_is_warned_of_after_turning_by_hand() -> None:
    """The dry run of a thread turned by hand says so; stopping before reversing comes at the next step."""
    # 5 mm of relief at a lead of 3.5 mm: 70 rpm leave less than a second.
    table = {"kind": "thread", "name": "x", "thread": "M30x3.5-6g", "relief": "5 mm", "tool_flat": "0.30 mm"}
    lathe = BASES["sundial_arbor 3 thread"].lathe
    plan_input = with_lathe(PlanInput("thread", table, lathe), speeds=["200 rpm"], reaction_time="1 s")
    dry, scratch = (
        next(step for step in make_plan(plan_input).steps if step.text.startswith(words))
        for words in ("Dry", "Scratch")
    )
    assert "Turn the spindle by hand" in dry.cautions[0] and "only then reverse" in scratch.cautions[0]


@pytest.mark.parametrize(("nose", "can_unscrew"), [("screwed", True), ("cam", False), ("flange", False), (None, True)])
def test_only_a_screwed_on_chuck_gets_the_caution_that_it_unscrews(nose: str | None, can_unscrew: bool) -> None:
    """A cam or a flange holds in reverse; an unknown nose counts as screwed."""
    for name in ("sundial_arbor 1 turn", "sundial_arbor 3 thread", "sundial_arbor 5 runout"):
        data = dict(BASES[name].lathe.data)
        data["spindle"] = {key: value for key, value in data["spindle"].items() if key != "nose"}
        lathe = lathe_from(data, "x")
        plan = make_plan(BASES[name]._replace(lathe=lathe) if nose is None else with_lathe(BASES[name], nose=nose))
        assert (UNSCREWS in plan.general) == can_unscrew


def test_the_chucks_highest_speed_is_shown_if_known() -> None:
    """If it is not known, none is suggested."""
    plan_input = BASES["sundial_arbor 1 turn"]
    assert any(
        "never above 1800 rpm" in caution
        for caution in make_plan(with_lathe(plan_input, most_speed="1800 rpm")).general
    )
    assert any("none suggested" in caution for caution in make_plan(plan_input).general)


def test_a_cutter_wider_than_the_blank_is_warned_of_at_the_dry_run() -> None:
    """50.8 mm with its groove, on a blank of 40: among the plan's own cautions, and at the dry run of that layer."""
    plan_input = BASES["hour_lines 3 pattern"]
    layer = {"shape": "circles", "count": 6, "offset": "10 mm", "circle_radius": "25 mm", "depth": "0.4 mm"}
    plan = make_plan(
        plan_input._replace(parameters={**plan_input.parameters, "blank_diameter": "40 mm", "layer": [layer]})
    )
    words = "the cutter swings 50.8 mm, wider than the blank of 40 mm: keep clamps clear"
    assert any(words in caution for caution in plan.cautions)
    assert any(words in step.cautions[0] for step in plan.steps if "dry run" in step.text)


def test_no_caution_on_the_rotary_table_says_to_turn_the_work() -> None:
    """The table is turned instead; and no line about stopping the spindle has an exception."""
    for kind in ("divide", "pattern"):
        plan = make_plan(next(plan_input for plan_input in SAMPLE_BASES.values() if plan_input.kind == kind))
        everything = said(
            [*plan.general, *plan.cautions, *plan.movements, *(word for step in plan.steps for word in step.cautions)]
        )
        assert "turn the work" not in everything and "unless" not in everything


@pytest.mark.parametrize("kind", ["thread", "turn", "face", "groove", "taper", "drill", "divide", "pattern", "holes"])
def test_finding_the_position_again_starts_with_isolating_the_drive(kind: str) -> None:
    """Before anything is turned by hand; cautions shown before the interruption come again."""
    plan_input = next(plan_input for plan_input in SAMPLE_BASES.values() if plan_input.kind == kind)
    plan = make_plan(plan_input)
    to_go = Measured(what="to go", size_mm=0.5)
    entered = Moved(size=to_go) if kind in {"turn", "face", "groove"} else Moved()
    if kind == "taper":
        entered = Moved(size=Measured(what="free end", size_mm=parameters_of(plan_input).small_mm))
    steps = replan(plan_input, after(plan, 5), entered)
    assert any("Isolate the drive" in step.text for step in steps[:2])
    assert all(len(step.cautions) <= 1 for step in steps)
    if kind in {"turn", "groove"}:
        assert "turn the work once round by hand" in steps[0].text and "never hold it" in steps[0].cautions[0]
    if kind == "thread":
        assert any("before power turn the work once round by hand" in said(step.cautions) for step in steps)


def test_planning_again_repeats_no_caution() -> None:
    """Steps planned from a measurement do not repeat cautions of steps already done."""
    plan_input = BASES["sundial_arbor 3 thread"]
    plan = make_plan(plan_input)
    at = [step.action for step in plan.steps].index("measure")
    steps = replan(plan_input, after(plan, at + 1), Measured(what="pitch diameter", size_mm=25.1))
    done = {caution for step in plan.steps[: at + 1] for caution in step.cautions}
    again = [caution for step in steps for caution in step.cautions]
    assert not done & set(again) and len(set(again)) == len(again)
    assert steps[0].findings[0].startswith("Pitch diameter 25.1 mm")


def test_the_usual_cautions_fit_one_line() -> None:
    """With their mark on 78 columns: what is wrapped is read half."""
    usual = [caution for plan_input in BASES.values() for caution in make_plan(plan_input).general]
    usual += [
        getattr(safety, name) for name in dir(safety) if name.isupper() and isinstance(getattr(safety, name), str)
    ]
    assert [caution for caution in usual if len(f"! {caution}") > 78] == []


def test_the_card_shows_each_general_caution_once() -> None:
    """The sample arbor's card had 38 lines, 12 of them distinct, one nine times, as one list."""
    job = read_job(SAMPLES / "sundial_arbor.toml")
    for text in (card_text(job, 200), card_markdown(job)):
        lines = [line.partition("! ")[2].rstrip(" |") for line in text.splitlines() if "! " in line]
        counts = Counter(lines)
        assert len(lines) <= 25 and len(counts) >= 19
        # Touching off is three operations' own matter; all else stands once.
        assert [count for count in counts.values() if count > 1] == [3]
        assert all(counts[caution] == 1 for caution in AT_THE_MACHINE)
    data = card_data(job)["operations"]
    assert data[2]["cautions"] == [*job.operations[2].plan.cautions, *job.operations[2].plan.general]


def test_a_plan_of_the_first_version_is_read() -> None:
    """It held all its cautions in one list; they are all shown."""
    plan = Plan(
        steps=(Step(id=1, action="check", text="x", findings=("found",)),), cautions=("own",), general=("usual",)
    )
    assert plan_from_data(plan_as_data(plan)) == plan
    old = plan_as_data(plan)
    del old["general"], old["steps"][0]["findings"]
    assert plan_from_data(old).cautions == ("own",) and plan_from_data(old).general == ()


def test_a_lathe_without_spindle_data_gets_the_usual_cautions() -> None:
    """Without nose and speeds the more careful cautions are shown."""
    table = {"kind": "by_hand", "name": "x", "text": "File it"}
    words = said(make_plan(PlanInput("by_hand", table, Lathe(name="bare"))).general)
    assert "none suggested" in words and "unscrew" in words
