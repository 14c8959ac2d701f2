"""What readings of an indicator mean, and what to do about it."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from core.lathe.lathe import Chuck
from core.operations.runout.findings import figure_words
from core.operations.runout.remarks import questions, remarks
from core.operations.runout.verdict import change_words, effects_on_work, good_enough_words, verdict
from core.values.quantities import mm_text
from tests.core.operations.runout.test_verdict import LATHE, Advice, advised_by, analysed, job_with
from tests.core.run.test_runout_view import Check, bar_readings
from tests.core.wording.said import Said, keys_text, said

AFTER = ((0.30, 77), (0.001, 190), (0.10, 77), (0.10, 257), (0.60, 77), (0.424264, 32), (0.40, 257))
ADVISED: tuple[tuple[float, dict[str, Any]], ...] = (
    (0.3, {"workholding": "four jaw"}),
    (0.3, {"workholding": "flange"}),
    (0.3, {"workholding": "three jaw"}),
    (0.3, {"workholding": "three jaw", "diameter_mm": None}),
    (0.3, {"workholding": "screwed on"}),
    (0.3, {"workholding": "between centres"}),
    (0.001, {"workholding": "four jaw"}),
    (0.3, {}),
    (0.3, {"workholding": "flange", "surface": "face", "diameter_mm": None}),
    (30.0, {"workholding": "flange"}),
    (0.3, {"workholding": "flange", "tolerance_mm": 1.0}),
    (0.3, {"workholding": "flange", "tolerance_mm": 0.05, "lobes": 0.1}),
    (0.02, {"workholding": "flange", "tolerance_mm": 0.06}),
    (0.006, {"workholding": "flange", "tolerance_mm": 0.005}),
    (0.004, {"workholding": "flange"}),
    (0.01, {"workholding": "flange", "tolerance_mm": 0.02}),
)


def page() -> Iterator[Said]:
    """Return what is said in each situation."""
    for tolerance_mm in (0.05, 0.03, 0.0217, 0.005):
        yield said(f"within {tolerance_mm} mm?", verdict([analysed(0.015, 0)], tolerance_mm).sentence(mm_text))
    yield said("high between two marks", verdict([analysed(0.1, 22.5)], 0.05).sentence(mm_text))
    for size_mm in (0.009, 0.1):
        job = job_with(workholding="screwed on")
        yield said(f"screwed on, {size_mm} mm off", good_enough_words([analysed(size_mm, 0)], job, mm_text))
    for size_mm, high_deg in AFTER:
        changed = change_words(analysed(0.30, 77), analysed(size_mm, high_deg), mm_text)
        yield said(f"0.30 mm off at 77°, then {size_mm} mm at {high_deg}°", changed)
    yield said(
        "0.05 mm off, a groove 0.04 mm deep",
        *effects_on_work(analysed(0.05, 0), mm_text, tip_angle_deg=90, depth_mm=0.04),
    )
    yield said("a face 0.02 mm out", *effects_on_work(analysed(0.02, 0, "face"), mm_text))
    for size_mm, keys in ADVISED:
        yield _advice(f"{size_mm} mm off, {keys_text(keys)}", advised_by(size_mm, **keys))
    thick = replace(LATHE, shims_mm=(0.5,), chuck=Chuck(jaw_face="wide"))
    for size_mm in (0.1, 0.3):
        yield _advice(
            f"{size_mm} mm off, only 0.5 mm to shim with", advised_by(size_mm, lathe=thick, workholding="three jaw")
        )
    yield from _while_reading()


def _advice(situation: str, found: Advice) -> Said:
    return said(situation, *found.summary, *found.to_do, *found.expect)


def _while_reading() -> Iterator[Said]:
    """A check as its screen follows it, round after round."""
    check = Check(tolerance="0.02 mm")
    yield _seen("nothing read", check)
    readings = bar_readings(0.10, 77)
    check.read(*readings[:6])
    yield _seen("6 of 8 read", check)
    check.read(*readings[6:], readings[0])
    yield _seen("all read", check)
    check.moved()
    check.read(0.0)
    yield _seen("moved, 1 read", check)
    check.read(*bar_readings(0.01, 77)[1:], 0.0)
    yield _seen("moved, all read", check)
    found = analysed(0.10, 77)
    figures = (f"{figure.name}: {figure.value} {figure.note}".strip() for figure in figure_words(found, mm_text))
    yield said(
        "figures of 0.10 mm off", *figures, *questions(found, job_with(), mm_text), *remarks(found, job_with(), mm_text)
    )


def _seen(situation: str, check: Check) -> Said:
    seen = check.seen
    return said(situation, seen.heading, seen.text, *(line.words for line in seen.findings))
