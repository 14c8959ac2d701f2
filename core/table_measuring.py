"""What is measured of a pattern on the table: a depth in words, and sizes that nobody can have measured."""

from core.cutting import Infeed
from core.dials import Setting
from core.indexing.depth import refuse_impossible_depth
from core.lathe import dial_words
from core.operations import Basis, parameters_of
from core.plan import Step
from core.rings.head import refuse_impossible_circle
from core.state import State

_NOTHING_MM = 5e-7


def depth_found_words(basis: Basis, state: State, measured_mm: float) -> str:
    """Return a measured depth in words, against what the pass it was measured at was to reach.

    measured_mm: depth found [mm]. Less than half a mark from the depth wanted in the
    end nothing can be set for, which is said.
    """
    say, cut = basis.lathe.say, _last_cut(state)
    found = f"depth {say(measured_mm)}"
    setting = None if cut is None else _setting(cut)
    if cut is None or setting is None:
        return found
    wanted_mm, half_mm = _wanted_mm(basis, cut), Infeed(dial=basis.lathe.dial(setting.dial)).mark_mm / 2
    is_near = abs(wanted_mm - measured_mm) < half_mm - _NOTHING_MM
    aim_mm = wanted_mm if is_near or (cut.remaining_mm or 0.0) < _NOTHING_MM else cut.depth_mm or 0.0
    short_mm = aim_mm - measured_mm
    if abs(short_mm) < _NOTHING_MM:
        return f"{found}, as wanted"
    found += f", {say(abs(short_mm))} {'short of' if short_mm > 0 else 'deeper than'} {say(aim_mm)}"
    if is_near:
        return f"{found}: within half a mark of the {dial_words(setting.dial)} ({say(half_mm)}), nothing to set for it"
    return found


def check_depth(basis: Basis, state: State, measured_mm: float) -> None:
    """Refuse a depth [mm] that the pass taken last cannot have cut; raises PlanError."""
    cut = _last_cut(state)
    setting = None if cut is None else _setting(cut)
    if cut is not None and setting is not None:
        infeed = Infeed(dial=basis.lathe.dial(setting.dial))
        refuse_impossible_depth(infeed, _wanted_mm(basis, cut), cut.depth_mm or 0.0, measured_mm, basis.lathe.say)


def check_circle(basis: Basis, state: State, measured_mm: float) -> None:
    """Refuse a trial circle [mm across] that is none of the ring at hand; raises PlanError."""
    number = next((step.extra["ring"] for step in state.open_steps() if "ring" in step.extra), None)
    if number is not None:
        refuse_impossible_circle(parameters_of(basis).rings[int(number) - 1], basis.lathe, measured_mm)


def _setting(cut: Step) -> Setting | None:
    return next((one for one in cut.settings if isinstance(one, Setting)), None)


def _last_cut(state: State) -> Step | None:
    """Return the pass that was taken last; None where none was."""
    done = (state.step(trace.marks[0][0]) for trace in reversed(state.trail) if trace.kind == "done")
    return next((step for step in done if step is not None and step.action == "cut"), None)


def _wanted_mm(basis: Basis, cut: Step) -> float:
    """Return the depth wanted in the end at the position of a pass [mm], its mark's rounding left aside."""
    job = parameters_of(basis)
    wanted = job.rings[int(cut.extra["ring"]) - 1] if "ring" in cut.extra else job.depth
    return float(wanted.depth_mm)
