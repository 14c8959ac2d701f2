"""Every plan of every kind in every material shows the cautions of the machine, and each step those of the hands."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest

from core.jobs import read_job
from core.operations import OPERATIONS, Basis, make_plan

SAMPLES = Path(__file__).parents[2] / "sample_jobs"
MATERIALS: Mapping[str | None, tuple[str, ...]] = {
    None: (),
    "mild steel": (),
    "aluminium": (),
    "cast bronze": ("mask",),
    "grey cast iron": ("mask",),
    "wood": ("mask",),
    "leaded brass": ("wash your hands",),
    "zinc-coated steel": ("fumes",),
}
"""Words that must come up beside the usual ones; common practice, no source."""
ALWAYS = ("eye protection", "gloves", "chuck key", "foot switch", "local rules")
STOPPED = ("stopped", "isolated")


def samples() -> list[Basis]:
    """Return what the operations of all samples are planned from."""
    jobs = [read_job(path) for path in sorted(SAMPLES.glob("*.toml")) if not path.stem.endswith("_lathe")]
    return [operation.basis for job in jobs for operation in job.operations]


BASES = samples()
NAMES = [f"{basis.kind}: {basis.parameters['name']}" for basis in BASES]


def said(cautions: Sequence[str]) -> str:
    """Return all cautions as one text to look for words in."""
    return " ".join(cautions).casefold()


def test_no_kind_of_operation_is_left_out() -> None:
    """The samples hold every kind there is; a new one must be added to them, and so comes under these tests."""
    assert {basis.kind for basis in BASES} == set(OPERATIONS)


@pytest.mark.parametrize("basis", BASES, ids=NAMES)
def test_every_plan_begins_with_its_cautions(basis: Basis) -> None:
    """Eyes, hands, chuck key, foot switch, and whose rules come first; dust, lead and zinc by material."""
    missing = []
    for material, of_material in MATERIALS.items():
        words = said(make_plan(basis._replace(material=material)).cautions)
        # Where work is only turned by hand and read, nothing flies and nothing is ground.
        wanted = (*ALWAYS, *(() if basis.kind == "runout" else of_material))
        missing += [(material, word) for word in wanted if word not in words]
    assert missing == []


@pytest.mark.parametrize("basis", BASES, ids=NAMES)
def test_a_hand_near_the_work_is_warned_at_the_step(basis: Basis) -> None:
    """Measuring: spindle stopped, drive isolated. Reading an indicator: turned by hand, indicator off before power."""
    plan = make_plan(basis)
    for step in plan.steps:
        if step.action == "measure":
            assert all(word in said(step.cautions) for word in STOPPED), step.text
    if any(step.action == "read" for step in plan.steps):
        everything = said([*plan.cautions, *(caution for step in plan.steps for caution in step.cautions)])
        assert all(word in everything for word in (*STOPPED, "by hand", "indicator and"))
    if basis.kind == "thread":
        everything = said([*plan.cautions, *(caution for step in plan.steps for caution in step.cautions)])
        assert all(word in everything for word in ("tool out", "never feel", "rag"))
    if basis.kind in {"turn", "cut", "thread", "index", "rings"}:
        everything = said([*plan.cautions, *(caution for step in plan.steps for caution in step.cautions)])
        assert "by hand" in everything and "lock" in everything
    if basis.kind == "rings":
        assert "speed" in said(plan.cautions)
