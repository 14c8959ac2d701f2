"""Results that a pattern takes over from a runout check, compared with readings of eccentric work made by numpy."""

from pathlib import Path

import numpy as np
import pytest

from core.jobs.job import parse_job
from core.run.runout_checks import Turned, check_of_run, checks_in_job
from tests.core.run.test_runout_view import Check

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
JOB = """\
format = 1
title = "Rim of a plate"
lathe = "metric_lathe.toml"
[[operation]]
kind = "runout"
name = "Check"
surface = "{surface}"
positions = 12
diameter = "60 mm"
{readings}
"""


def readings(surface: str, turned: Turned, off_mm: float, at_deg: float) -> list[float]:
    """Return the plunger's readings at twelve marks of a disc or bore of 30 mm that is eccentric towards an angle.

    The work turns past an indicator that is fixed at the right. Mark n comes to the indicator after n twelfths of a
    turn. Seen on the face, the edge of a disc pushes the plunger in, and the wall of a bore lets it out as it moves
    away.
    """
    found = []
    for mark in range(12):
        turn = np.radians(30 * mark) * (-1 if turned == "clockwise" else 1)
        centre = off_mm * np.exp(1j * (np.radians(at_deg) + turn))
        edge = centre.real + np.sqrt(30**2 - centre.imag**2)
        found.append(float(edge - 30 if surface == "outside" else 30 - edge))
    return found


def job_with(surface: str, values: list[float]) -> str:
    """Return the job with these readings."""
    listed = ", ".join(f'"{value:.6f} mm"' for value in values)
    return JOB.format(surface=surface, readings=f"readings = [{listed}]" if values else "")


@pytest.mark.parametrize("surface", ["outside", "bore"])
@pytest.mark.parametrize("turned", ["clockwise", "anticlockwise"])
@pytest.mark.parametrize("at_deg", [0.0, 75.0, 200.0])
def test_a_runout_check_gives_a_pattern_the_true_eccentricity_of_the_work(
    surface: str, turned: Turned, at_deg: float
) -> None:
    """The pattern gets the true eccentricity and direction, for both directions of turning, on a disc and in a bore."""
    values = readings(surface, turned, 0.08, at_deg)
    (check,) = checks_in_job(parse_job(job_with(surface, values), SAMPLES / "made_up.toml"))
    keys = check.keys(turned)
    assert float(keys["eccentricity"].removesuffix(" mm")) == pytest.approx(0.08, abs=2e-4)
    off_deg = float(keys["eccentric_at"].removesuffix(" deg")) - at_deg
    assert (off_deg + 180) % 360 - 180 == pytest.approx(0, abs=0.2)


@pytest.mark.parametrize("turned", ["clockwise", "anticlockwise"])
def test_a_runout_check_of_a_face_gives_a_runout_and_no_eccentricity(turned: Turned) -> None:
    """The face is highest at 120 deg, 0.06 mm from highest to lowest at 30 mm. There the plunger is pushed in most."""
    sense = 1 if turned == "clockwise" else -1
    marks = np.radians(30 * np.arange(12)) * sense
    values = (0.03 * np.cos(marks - np.radians(120))).tolist()
    (check,) = checks_in_job(parse_job(job_with("face", values), SAMPLES / "made_up.toml"))
    keys = check.keys(turned)
    assert keys.keys() == {"face_runout", "face_high_at", "face_radius"} and keys["face_radius"] == "30 mm"
    assert float(keys["face_runout"].removesuffix(" mm")) == pytest.approx(0.06, abs=2e-4)
    assert float(keys["face_high_at"].removesuffix(" deg")) == pytest.approx(120, abs=0.2)


def test_a_runout_check_of_a_face_without_a_diameter_clears_the_radius_of_an_older_check() -> None:
    """The radius of an older check would scale the new runout."""
    text = job_with("face", (0.03 * np.cos(np.radians(30 * np.arange(12)))).tolist())
    (check,) = checks_in_job(parse_job(text.replace('diameter = "60 mm"\n', ""), SAMPLES / "made_up.toml"))
    assert check.keys("clockwise")["face_radius"] == ""


def test_a_runout_check_without_readings_is_not_offered_for_use_in_a_pattern() -> None:
    """The job's check has no readings yet."""
    assert not list(checks_in_job(parse_job(job_with("outside", []), SAMPLES / "made_up.toml")))
    assert not list(checks_in_job(None))


def test_a_runout_check_has_no_result_before_every_mark_has_been_read() -> None:
    """No result is given before the last of twelve marks, and none after a move."""
    check, values = Check(positions=12, tolerance="0.02 mm"), readings("outside", "clockwise", 0.1, 40.0)
    check.read(*values[:-1])
    assert check_of_run("Rim", "a run", check.plan_input, check.state) is None
    check.read(values[-1])
    found = check_of_run("Rim", "a run", check.plan_input, check.state)
    assert found is not None and found.name == "Rim"
    keys = found.keys("clockwise")
    assert float(keys["eccentricity"].removesuffix(" mm")) == pytest.approx(0.1, abs=1e-3)
    assert float(keys["eccentric_at"].removesuffix(" deg")) == pytest.approx(40, abs=1)
    check.read(0.0)
    check.moved()
    assert check_of_run("Rim", "a run", check.plan_input, check.state) is None
