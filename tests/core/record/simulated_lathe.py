"""A simulated lathe with the faults of a real one:

true leads, deflection, errors of measuring, drift, taper, slow hands.

The simulation does not use the program's arithmetic. It turns a handle to the reading of a step, moves a slide by its
own true lead, removes the metal that the tool reaches, and measures with an error. It also keeps its true values, so
that a test can compute with numpy the results that the program must show.
"""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from core.events.state import Origin
from core.inputs import ExtraSpringPass, Measured
from core.lathe.lathe import Lathe
from core.lathe.reader import lathe_from
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.operations.registry import PlanInput
from core.plan import Step
from core.run.revising import logged_plan_input, revised_steps
from core.values.dials import Setting
from tests.core.planned import make_plan

DATA = {
    "format": 1,
    "name": "Shed lathe",
    "centre_height": "100 mm",
    "dial": {
        "cross_slide": {"per_turn": "4 mm", "graduation": "0.02 mm", "reads": "diameter"},
        "compound": {"per_turn": "2 mm", "graduation": "0.02 mm", "reads": "travel"},
        "carriage": {"per_turn": "20 mm", "graduation": "0.1 mm", "reads": "travel"},
    },
    "compound": {"scale_zero": "perpendicular", "scale_graduation": "1 deg"},
    "leadscrew": {"pitch": "3 mm"},
    "spindle": {"speeds": ["70 rpm", "190 rpm"]},
}


def described(**cross_slide: str) -> Lathe:
    """Return the lathe of its file, with some keys of the cross-slide's dial changed."""
    dials = {**DATA["dial"], "cross_slide": {**DATA["dial"]["cross_slide"], **cross_slide}}
    return lathe_from({**DATA, "dial": dials}, "shed.toml")


@dataclass
class Hands:
    """A clock for the simulated turner: time passes between keys, and a test sets the day."""

    day: datetime = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
    ms: int = 0

    def wall(self) -> str:
        """Return date and time."""
        return (self.day + timedelta(milliseconds=self.ms)).isoformat(timespec="seconds")

    def monotonic_ms(self) -> int:
        """Return the time since the start of the session [ms]."""
        return self.ms


@dataclass
class Truth:
    """The true values of the simulated lathe."""

    differences_mm: list[float] = field(default_factory=list)
    """The diameters taken off, as measured, minus the diameters by the numbers on the dial [mm]."""
    travels_mm: list[float] = field(default_factory=list)
    touched_off: list[bool] = field(default_factory=list)
    springs_mm: list[float] = field(default_factory=list)
    tapers_mm: list[float] = field(default_factory=list)
    pass_times_s: list[float] = field(default_factory=list)


@dataclass
class ShedLathe:
    """The simulated lathe. It only turns, and its cross-slide's dial reads diameter."""

    logbook: Logbook
    lathe: Lathe
    rng: np.random.Generator
    true_ratio: float = 1.0
    """True travel divided by the travel in the lathe file."""
    noise_mm: float = 0.002
    """Standard deviation of a measured diameter [mm]."""
    touch_mm: float = 0.005
    """Standard deviation of a touch-off, on the radius [mm]."""
    offset_mm: float = 0.0
    """How much every pass leaves on the diameter [mm], because the work bends away from the tool."""
    spring_mm: float = 0.0
    """How much one spring pass takes off the diameter [mm]."""
    truth: Truth = field(default_factory=Truth)
    hands: Hands = field(default_factory=Hands)

    def turn(self, start_mm: float, end_mm: float, *, springs: int = 0, cut: str = "0.5 mm") -> ActiveRun:
        """Turn a diameter from its blank to its end, measuring at each step that asks for it.

        Return the finished run.
        """
        parameters = {"kind": "turn", "name": "Spigot", "from": f"{start_mm} mm", "to": f"{end_mm} mm", "cut": cut}
        run = begin(self.logbook, self.lathe, parameters, self.hands)
        sizes = _Work(self, start_mm)
        while (step := run.state.cursor) is not None:
            if step.action == "measure":
                self._enter(run, sizes.measured_mm())
                if springs:
                    self._springs(run, sizes, springs)
                continue
            sizes.do(step)
            before_ms = self.hands.ms
            self.hands.ms += int(self.rng.integers(20_000, 40_000))
            previous = self.logbook.events(run.uid)[-1].kind
            run.done()
            if step.action == "cut" and previous == "done":
                self.truth.pass_times_s.append((self.hands.ms - before_ms) / 1000)
        run.finish()
        run.close()
        return run

    def _springs(self, run: ActiveRun, sizes: "_Work", count: int) -> None:
        before_mm = sizes.last_mm
        for _ in range(count):
            plan_input = PlanInput("turn", run.state.plan_input.parameters, self.lathe, run.state.plan_input.material)
            run.revise(ExtraSpringPass(), revised_steps(plan_input, run.state, ExtraSpringPass()))
            sizes.spring()
            self.hands.ms += 15_000
            run.done()
        sizes.after_springs_mm = sizes.diameter_mm + float(self.rng.normal(0, self.noise_mm))
        self._enter(run, sizes.after_springs_mm)
        self.truth.springs_mm.append((before_mm - sizes.after_springs_mm) / count)
        sizes.starts_from(sizes.after_springs_mm)

    def _enter(self, run: ActiveRun, size_mm: float) -> None:
        self.hands.ms += 45_000
        enter(run, self.lathe, Measured(what="size", size_mm=size_mm))


class _Work:
    """The work in the chuck and the slide in front of it."""

    def __init__(self, machine: ShedLathe, blank_mm: float) -> None:
        self.machine, self.diameter_mm = machine, blank_mm
        self.last_mm = self.after_springs_mm = blank_mm
        self._dial, self._dial_at_start = 0.0, 0.0
        self._tool_at_zero_mm = 0.0
        self._touched_off = True

    def do(self, step: Step) -> None:
        """Do one step at the machine."""
        if "cross_slide" in step.zeroed_dials:
            error_mm = float(self.machine.rng.normal(0, self.machine.touch_mm))
            self._tool_at_zero_mm, self._dial = self.diameter_mm / 2 + error_mm, 0.0
        for setting in step.settings:
            if isinstance(setting, Setting) and setting.dial == "cross_slide":
                self._dial = float(setting.position)
        if step.action == "cut":
            # In the lathe file the dial reads diameter. So half a number is travel, multiplied by the true ratio.
            tool_mm = self._tool_at_zero_mm - self._dial / 2 * self.machine.true_ratio
            self.diameter_mm = min(self.diameter_mm, 2 * tool_mm + self.machine.offset_mm)

    def spring(self) -> None:
        """Take one spring pass."""
        self.diameter_mm -= self.machine.spring_mm

    def measured_mm(self) -> float:
        """Measure the diameter, and note the difference from the diameter by the dial."""
        size_mm = self.diameter_mm + float(self.machine.rng.normal(0, self.machine.noise_mm))
        truth, travel_mm = self.machine.truth, self._dial - self._dial_at_start
        truth.differences_mm.append((self.last_mm - size_mm) - travel_mm)
        truth.travels_mm.append(travel_mm)
        truth.touched_off.append(self._touched_off)
        self.starts_from(size_mm)
        return size_mm

    def starts_from(self, size_mm: float) -> None:
        """Count from a measured size on."""
        self.last_mm, self._dial_at_start, self._touched_off = size_mm, self._dial, False


def begin(logbook: Logbook, lathe: Lathe, parameters: dict[str, object], hands: Hands) -> ActiveRun:
    """Start a run of an operation, as the program does."""
    plan_input = PlanInput(str(parameters["kind"]), parameters, lathe, "mild steel")
    origin = Origin(job_path="/jobs/socket.toml", job_title="Socket", op_name=str(parameters["name"]))
    return ActiveRun.begin(logbook, make_plan(plan_input), logged_plan_input(plan_input), origin, hands, "shed")


def enter(run: ActiveRun, lathe: Lathe, measured: Measured) -> None:
    """Enter a measurement, as the counter does."""
    logged = run.state.plan_input
    plan_input = PlanInput(logged.kind, logged.parameters, lathe, logged.material)
    run.revise(measured, revised_steps(plan_input, run.state, measured))


def logbook_in(folder: Path) -> Logbook:
    return Logbook.open(folder)
