"""What the counter says at the rotary table, where the table is, and what a measured depth means."""

from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Any

from core.operations.dividing.depth import check_depth, measured_depth_text
from core.operations.patterns.effects import SetUpErrors, set_up_effects
from core.run.table_reading import locate_table, read_table_setting
from tests.core.counted import Counted, table_lathe
from tests.core.operations.dividing.rotary import lathe_with, layers_job
from tests.core.operations.dividing.test_table_counter import DEEP, PLATES, by_dial, by_plate
from tests.core.operations.patterns.test_form_values import LAYER
from tests.core.wording.said import Said, refusal, said

_PLACES = ("160-0", "160d4m", "159-58", "12 turns 0-4", "355-0", "0-0")
_PLATE_PLACES = ("3", "3 holes at 154 deg", "3 holes at 145 deg", "145 deg", "12+1", "17+1")


def page() -> Iterator[Said]:
    """Return what is said in each situation."""
    for way, run_of in (("by dial", by_dial), ("by plate", lambda: by_plate(7)), ("by notches", _by_notches)):
        yield from _counted(way, run_of)
    falling = by_dial(36, sense="falling")
    falling.to_position(3)
    yield _shown("by dial, falling", falling)
    yield from _places()
    yield from _set_otherwise()
    yield from _depths()
    errors = SetUpErrors(face_tir_mm=0.6, table_tir_mm=0.2, position_deg=Fraction(1, 60), tilt_deg=0.2)
    job = layers_job(lathe_with(), LAYER, {**LAYER, "offset": "25 mm"}, tip_angle="120 deg", height_error="0.2 mm")
    yield said(
        "set-up errors",
        *(f"{effect.cause}: {effect.amount}; {effect.meaning}" for effect in set_up_effects(job, errors, lathe_with())),
    )


def _by_notches() -> Counted:
    return Counted(table_lathe(**PLATES), "divide", divisions=8, with_="direct")


def _shown(situation: str, run: Counted) -> Said:
    view = run.view
    dial = view.dial
    shown = "" if dial is None else " | ".join((dial.turns, dial.number, dial.unit, dial.direction, dial.absolute))
    return said(situation, view.title, view.text, shown, *view.also, *view.findings, *view.cautions)


def _counted(way: str, run_of: Callable[[], Counted]) -> Iterator[Said]:
    """A position in turn, after a skipped one, again, undone, and after the table was moved."""
    run = run_of()
    run.to_position(4)
    yield _shown(f"{way}, 4", run)
    run.skip()
    yield _shown(f"{way}, 5 after 4 was skipped", run)
    run.done()
    run.again(3)
    yield _shown(f"{way}, 3 once more", run)
    run.done()
    run.again(3)
    yield _shown(f"{way}, 3 at once once more", run)
    run = run_of()
    run.to_position(6)
    run.undo()
    yield _shown(f"{way}, one undone", run)
    run.undo()
    run.undo()
    yield _shown(f"{way}, three undone", run)
    run = run_of()
    run.to_position(5)
    run.revise("moved")
    yield _shown(f"{way}, moved", run)
    run.skip()
    yield _shown(f"{way}, moved, and its zero skipped", run)


def _places() -> Iterator[Said]:
    """Where is it?"""
    run = by_dial()
    yield _found("by dial, before anything was set", run, "0-0")
    run.to_position(17)
    for typed in _PLACES:
        yield _found("by dial, 17", run, typed)
    run = by_plate(7)
    run.to_position(5)
    for typed in _PLATE_PLACES:
        yield _found("by plate, 5", run, typed)
    run = _by_notches()
    run.to_position(3)
    yield _found("by notches, 3", run, "9")
    for typed in ("", "x", "3 mm", "5 turns 7°00'"):
        yield said(f"by dial, shows {typed!r}", *refusal(locate_table, by_dial().lathe, by_dial().state, typed))


def _found(situation: str, run: Counted, typed: str) -> Said:
    found = locate_table(run.lathe, run.state, typed)
    return said(f"{situation}, shows {typed}", found.words, *found.more)


def _set_otherwise() -> Iterator[Said]:
    """Set differently from what was planned."""
    for run, shown in ((by_dial(radius="50 mm"), "0d6m"), (by_plate(7), "4 holes"), (_by_notches(), "8")):
        run.to_position(4)
        position, words = read_table_setting(run.lathe, run.cursor, shown)
        run.revise("set", dial="rotary_table", position=str(position), shown=words)
        yield _shown(f"4 is set to {shown}", run)
    run = by_dial()
    yield said("set the zero differently", *refusal(read_table_setting, run.lathe, run.state.steps[-1], "0d6m"))


def _depths() -> Iterator[Said]:
    """A depth measured at a position."""
    keys: dict[str, Any] = {**DEEP, "depth": "1 mm"}
    run = Counted(table_lathe(), "divide", divisions=6, **keys)
    run.to_position(1)
    run.done(2)
    for depth_mm in (0.988, 1.012, 0.987, 1.0):
        yield said(f"{depth_mm} mm deep of 1", measured_depth_text(run.job, run.lathe, run.state, depth_mm))
    yield said("10.99 mm deep of 1", *refusal(check_depth, run.job, run.lathe, run.state, 10.99))
