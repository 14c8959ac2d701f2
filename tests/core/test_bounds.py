"""Too much work is refused before it is done: steps are counted by formula, and files and rows have limits."""

import os
import threading
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.jobs.job import parse_job, read_job
from core.lathe.lathe import Lathe
from core.lathe.reader import example_lathe
from core.operations import registry
from core.operations.registry import PlanInput, count_steps, parameters_of
from core.operations.threads.designation import read_thread
from core.plan import MOST_STEPS
from core.values.errors import MOST_SHOWN, FileError, PlanError
from core.values.fields import Problem, Table
from core.values.files import LARGEST_FILE, read_text, read_toml, write_text
from tests.core.operations.dividing.rotary import lathe_with, pattern_keys
from tests.core.planned import make_plan

SOON_S = 1.0
FINE = Fraction(1, 10_000)
HEAD = 'format = 1\ntitle = "Pin"\n'
STEPS = 'kind = "turn"\nname = "Pin"\nfrom = "12 mm"\nto = "10 mm"\ncut = "0.5 mm"\n'


def sizes(most_mm: float) -> st.SearchStrategy[str]:
    """Return lengths up to `most_mm`, in hundredths [mm]."""
    return st.integers(1, round(most_mm * 100)).map(lambda hundredths: f"{hundredths / 100} mm")


TURNS = st.fixed_dictionaries(
    {"kind": st.just("turn"), "from": st.just("40 mm"), "to": sizes(39), "cut": sizes(2)},
    optional={"finish": sizes(0.5)},
)
FACES = st.fixed_dictionaries(
    {"kind": st.just("face"), "dial": st.just("carriage"), "remove": sizes(9), "cut": sizes(2)}
)
GROOVES = st.fixed_dictionaries(
    {"kind": st.just("groove"), "dial": st.just("cross_slide"), "depth": sizes(9), "cut": sizes(2)}
)
THREADS = st.fixed_dictionaries(
    {
        "kind": st.just("thread"),
        "thread": st.sampled_from(["M30x3.5-6g", "M10", "M24xPh6P3", "M20x2-LH", "M20x1.5-6H", "Tr20x4", "1/4-20 UNC"]),
    },
    optional={
        "infeed": st.sampled_from(["flank", "straight"]),
        "passes": st.integers(1, 40),
        "spring_passes": st.integers(0, 3),
        "deepest_pass": sizes(0.3),
        "relief": st.just("4 mm"),
        "length": st.just("20 mm"),
        "runs": st.sampled_from(["to the chuck", "from the chuck"]),
    },
)
DIVIDED = st.fixed_dictionaries(
    {
        "kind": st.just("divide"),
        "divisions": st.integers(2, 12),
        "order": st.sampled_from(["round", "position"]),
        "with": st.sampled_from(["dial", "plate"]),
    },
    optional={"depth": sizes(3)},
).map(lambda table: {**table, "depth_dial": "cross_slide", "cut": "0.4 mm"} if "depth" in table else table)
HOLES = st.fixed_dictionaries({"kind": st.just("holes"), "count": st.integers(2, 40), "circle": st.just("64 mm")})
READINGS = st.fixed_dictionaries(
    {"kind": st.just("runout"), "positions": st.integers(3, 24), "planes": st.integers(1, 2), "apart": st.just("9 mm")}
).map(lambda table: table if table["planes"] == 2 else {**table, "apart": None})


KINDS = ("turn", "face", "groove", "thread", "holes", "runout")


def plan_input(parameters: dict[str, Any], lathe: Lathe | None = None) -> PlanInput:
    """Return an operation to plan on the example lathe."""
    table = {key: value for key, value in parameters.items() if value is not None}
    return PlanInput(kind=table["kind"], parameters={"name": "it", **table}, lathe=lathe or example_lathe())


@pytest.mark.parametrize("tables", [TURNS, FACES, GROOVES, THREADS, HOLES, READINGS], ids=KINDS)
def test_the_step_count_computed_before_planning_equals_the_steps_of_a_cutting_plan(
    tables: st.SearchStrategy[dict[str, Any]],
) -> None:
    """The formula gives the number of steps in the plan, for every way of cutting."""

    @settings(max_examples=60, deadline=None)
    @given(tables)
    def counts(table: dict[str, Any]) -> None:
        its = plan_input(table)
        try:
            plan = make_plan(its)
        except (PlanError, FileError):
            return
        assert count_steps(parameters_of(its), its.kind, its.lathe, None) == len(plan.steps)

    counts()


@settings(max_examples=60, deadline=None)
@given(DIVIDED)
def test_the_step_count_computed_before_planning_equals_the_steps_of_a_dividing_plan(table: dict[str, Any]) -> None:
    """The table is set by dial or by plate, in both orders of positions and passes, with a depth and without."""
    its = plan_input(table, lathe_with(plates=True))
    try:
        plan = make_plan(its)
    except PlanError:
        # The job is less than a mark of the dial deep. Counting refuses it too.
        with pytest.raises(PlanError):
            count_steps(parameters_of(its), its.kind, its.lathe, None)
        return
    assert count_steps(parameters_of(its), its.kind, its.lathe, None) == len(plan.steps)


@pytest.mark.parametrize("order", ["round", "position"])
def test_the_step_count_computed_before_planning_a_pattern_is_never_too_small(order: str) -> None:
    """The steps of a layer depend on the earlier layers. The count leaves room for all of them."""
    layer = {"count": 5, "offset": "20 mm", "circle_radius": "8 mm", "depth": "0.6 mm", "skip": [2]}
    other = {**layer, "count": 7, "circle_radius": "9 mm", "depth": "0.3 mm", "skip": [1, 3]}
    its = plan_input({"kind": "pattern", **pattern_keys(layer, other, cut="0.1 mm", order=order)}, lathe_with())
    steps = len(make_plan(its).steps)
    assert steps <= count_steps(parameters_of(its), its.kind, its.lathe, None) <= steps + 40


HUGE = {
    "turn": ({"from": "99999 mm", "to": "1 mm", "cut": "0.05 mm"}, "cut"),
    "face": ({"dial": "carriage", "remove": "99999 mm", "cut": "0.1 mm"}, "cut"),
    "groove": ({"dial": "cross_slide", "depth": "99999 mm", "cut": "0.01 mm"}, "cut"),
    "divide": ({"divisions": 2, "depth": "99999 mm", "cut": "0.01 mm", "depth_dial": "cross_slide"}, "cut"),
    "pattern": (
        pattern_keys(*[{"count": 9, "offset": "9 mm", "circle_radius": "8 mm", "depth": "900 mm"}] * 9, cut="0.001 mm"),
        "cut",
    ),
    "thread": ({"thread": "Tr300x44", "blank": "300 mm", "deepest_pass": "0.00001 mm"}, "deepest_pass"),
}


@pytest.mark.parametrize("kind", HUGE)
def test_an_operation_with_too_many_steps_is_refused_before_planning(
    kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The refusal names the key that makes so many steps, and nothing is planned."""
    table, key = HUGE[kind]
    lathe = lathe_with()
    lathe = replace(lathe, dials={name: replace(its, graduation=FINE) for name, its in lathe.dials.items()})
    begun = time.process_time()
    monkeypatch.setattr("core.plan.Plan.__post_init__", lambda plan: pytest.fail("a plan was made"))
    with pytest.raises(PlanError, match=rf"steps\. A run can have at most {MOST_STEPS}. Enter a deeper") as refused:
        make_plan(plan_input({"kind": kind, **table}, lathe))
    assert refused.value.field == key
    assert time.process_time() - begun < SOON_S


def test_a_job_with_too_many_steps_is_refused_before_planning(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each operation alone would be accepted, but the sum of their steps is too large."""
    monkeypatch.setattr(registry, "plan_of", lambda *_: pytest.fail("an operation was planned"))
    cut = STEPS.replace('name = "Pin"\n', "").replace("12 mm", "60 mm").replace("0.5 mm", "0.05 mm")
    text = HEAD + "".join(f'[[operation]]\nname = "{number}"\n{cut}' for number in range(1_000))
    begun = time.process_time()
    with pytest.raises(FileError, match=rf"1000 operations take \d+ steps. A job can have at most {MOST_STEPS}"):
        parse_job(text, Path("pin.toml"))
    assert time.process_time() - begun < SOON_S


@pytest.mark.parametrize(
    ("thread", "blank", "said"),
    [
        ("M27", "268 mm", "at most 29.952 mm"),
        ("M27", "26800 mm", "at most 29.952 mm"),
        ("M10x0.25", "10.6 mm", "at most 10.482 mm"),
        ("M27-6H", "5 mm", "at least 20.752 mm"),
    ],
)
def test_a_blank_far_too_large_for_its_thread_is_refused(thread: str, blank: str, said: str) -> None:
    """A forgotten decimal point must not plan 514 passes. The limit is shown.

    M27x3 is at most 26.952 mm (ISO 965-1).
    """
    with pytest.raises(PlanError, match=said) as refused:
        make_plan(plan_input({"kind": "thread", "thread": thread, "blank": blank}))
    assert refused.value.field == "blank"


@pytest.mark.parametrize(("thread", "blank"), [("M27", "28 mm"), ("M10x0.25", "10.3 mm"), ("M27-6H", "23 mm")])
def test_a_blank_slightly_too_large_for_its_thread_gets_a_caution(thread: str, blank: str) -> None:
    """The thread is planned, and the caution says how much larger or smaller the blank is."""
    plan = make_plan(plan_input({"kind": "thread", "thread": thread, "blank": blank}))
    assert any(f"{blank} is" in caution and ("above" in caution or "below" in caution) for caution in plan.cautions)


@pytest.mark.parametrize("pitch", ["0.001", "0.03", "0.069", "50", "80", "150"])
def test_a_pitch_that_no_lathe_can_cut_is_refused(pitch: str) -> None:
    """The pitch is given by name and by sizes. The finest and the coarsest pitch of the standards are accepted."""
    problems: list[Problem] = []
    tables = [{"thread": f"M200x{pitch}"}, {"form": "60 deg", "major": "200 mm", "pitch": f"{pitch} mm"}]
    for number, table in enumerate(tables, start=1):
        found = {"kind": "thread", "name": "it", **table}
        assert registry.read_operation(Table(found, "", problems), example_lathe()) is None
        assert len(problems) == number and "0.07 mm to below 50 mm." in problems[-1].message


@given(st.integers(70, 8149).map(lambda thousandths: thousandths / 1000), st.sampled_from(["", "-6H", "-4g6g", "-7G"]))
def test_limits_of_size_can_be_computed_for_every_accepted_pitch(pitch_mm: float, tolerance_class: str) -> None:
    """Even for the finest accepted pitch, no tolerance formula of ISO 965-1 gives a value below zero."""
    thread = read_thread(f"M10x{pitch_mm}{tolerance_class}")
    assert 0 < (thread.limits.pitch_diameter_min_mm or 0) < (thread.limits.pitch_diameter_max_mm or 0)


@pytest.mark.parametrize("line", [" " * 1_900, "\t" * 1_900, "[" * 1_900, "a " * 950, '"" ' * 600, "a" * 1_900 + "="])
def test_a_job_file_of_one_megabyte_is_read_or_refused_quickly(line: str) -> None:
    """No pattern of a reader tries the same blanks repeatedly."""
    text = (HEAD + (line + "\n") * (LARGEST_FILE // (len(line) + 1)))[:LARGEST_FILE]
    begun = time.process_time()
    with pytest.raises(FileError):
        parse_job(text, Path("pin.toml"))
    assert time.process_time() - begun < SOON_S


def test_the_first_twenty_errors_of_a_file_are_shown_and_the_rest_are_counted() -> None:
    """The first twenty are shown. Errors of the lathe file count together with those of the job."""
    text = HEAD + "".join(f"k{number} = 1\n" for number in range(60))
    with pytest.raises(FileError) as refused:
        parse_job(text, Path("pin.toml"))
    assert len(refused.value.every) == 61
    assert refused.value.messages == (
        *refused.value.every[:MOST_SHOWN],
        "There are 41 more errors. Correct the errors above first.",
    )
    assert len(FileError(["wrong"] * MOST_SHOWN).messages) == MOST_SHOWN


SPECIAL = ("/proc/kmsg", "/proc/self/mem", "/proc/sys/kernel/random/uuid", "/dev/zero", "/dev/stdin", "/dev/full")


@pytest.mark.parametrize("path", SPECIAL)
def test_folders_and_devices_are_refused_as_job_files(path: str, tmp_path: Path) -> None:
    """The path is given as a job, as its lathe and as the user's own lathe. The program refuses it without waiting."""
    job = tmp_path / "job.toml"
    job.write_text(f'{HEAD}lathe = "{path}"\n[[operation]]\n{STEPS}')
    plain = tmp_path / "plain.toml"
    plain.write_text(f"{HEAD}[[operation]]\n{STEPS}")
    begun = time.monotonic()
    for read in (
        lambda: read_toml(Path(path)),
        lambda: read_job(job),
        lambda: read_job(plain, Path(path)),
        lambda: read_job(plain, None, Path(path)),
    ):
        with pytest.raises(FileError, match=r"empty|a device or a pipe|no such file|no permission"):
            read()
    assert time.monotonic() - begun < SOON_S


def test_a_pipe_in_place_of_a_file_is_refused_without_waiting(tmp_path: Path) -> None:
    """The pipe has no writer. Reading it and writing under its name are refused."""
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    refusals: list[str] = []

    def both() -> None:
        for use in (lambda: read_text(pipe), lambda: write_text(pipe, "x")):
            with pytest.raises(FileError) as refused:
                use()
            refusals.append(refused.value.message or str(refused.value))

    thread = threading.Thread(target=both, daemon=True)
    thread.start()
    thread.join(SOON_S)
    assert len(refusals) == 2 and all(str(pipe) in words for words in refusals)
    assert pipe.is_fifo() and list(tmp_path.iterdir()) == [pipe]
