"""Figures that appear in several places: each is calculated once and is right."""

from fractions import Fraction
from math import asin, cos, radians

import numpy as np
import pytest

from core.operations.runout.analysis import LEAST_HIGH_SPOT_DEG, Analysis, analyse
from core.operations.runout.findings import figure_words
from core.operations.runout.harmonics import evenly_spaced
from core.operations.runout.job import RunoutJob
from core.operations.runout.picture import drawn_words
from core.operations.runout.remarks import VAGUE_DEG, remarks
from core.values.quantities import mm_text
from tests.core.figures import figures

GRADUATION_MM = 0.01


def _analysed(size_mm: float, high_deg: float, count: int = 8) -> tuple[Analysis, RunoutJob]:
    job = RunoutJob(angles_deg=evenly_spaced(count))
    readings = [size_mm * cos(radians(angle - high_deg)) for angle in job.angles_deg]
    return analyse(readings, job.angles_deg, job, graduation_mm=GRADUATION_MM), job


@pytest.mark.parametrize("count", [4, 8, 12])
@pytest.mark.parametrize(("sizes", "at_least"), [(2.0, 0.87), (4.0, 0.93), (8.0, 0.94), (20.0, 0.94)])
def test_the_true_high_spot_lies_within_the_stated_uncertainty_of_its_angle(
    count: int, sizes: float, at_least: float
) -> None:
    """Tried with numpy: readings scattered by a graduation, with offsets of a given number of standard errors."""
    found, _ = _analysed(0.05, 77, count)
    error_mm = GRADUATION_MM / np.sqrt(12) * np.sqrt(2 / count)
    assert found.error_mm == pytest.approx(error_mm)
    size_mm, rng = sizes * error_mm, np.random.default_rng(5)
    marks, high = np.radians(evenly_spaced(count)), np.radians(rng.uniform(0, 360, 20_000))
    readings = size_mm * np.cos(marks - high[:, None]) + rng.normal(0, GRADUATION_MM / np.sqrt(12), (20_000, count))
    waves = np.fft.fft(readings)[:, 1].conj() * 2 / count
    away_deg = np.degrees(np.abs(np.angle(waves * np.exp(-1j * high))))
    seen = np.abs(waves) >= 2 * error_mm
    within_deg = np.degrees(2 * error_mm / np.abs(waves))
    share = (away_deg <= within_deg)[seen].mean()
    assert at_least < share < 0.97
    # The bound by numpy and the bound by the program agree for such readings.
    row = int(np.flatnonzero(seen)[0])
    job = RunoutJob(angles_deg=evenly_spaced(count))
    told = analyse(readings[row].tolist(), job.angles_deg, job, graduation_mm=GRADUATION_MM)
    assert told.high_spot_within_deg == pytest.approx(within_deg[row])


def test_the_uncertainty_of_the_high_spot_of_a_large_offset_covers_the_error_circle() -> None:
    """The bound is the half angle of the error circle seen from the axis, but never below a fixed least angle."""
    found, _ = _analysed(0.1, 77)
    bound = np.degrees(asin(2 * found.error_mm / found.eccentricity_mm))
    assert found.high_spot_within_deg == pytest.approx(bound, rel=1e-3)
    assert _analysed(1.0, 77)[0].high_spot_within_deg == LEAST_HIGH_SPOT_DEG


@pytest.mark.parametrize("size_mm", [0.003, 0.005, 0.008, 0.05])
def test_the_remark_and_the_figure_give_the_same_uncertainty_of_the_high_spot(size_mm: float) -> None:
    """The figure after ± equals the one in the remark, if there is a remark."""
    found, job = _analysed(size_mm, 116.6)
    beside = next(figure.value for figure in figure_words(found, mm_text) if figure.name == "High spot")
    within = beside.partition("± ")[2]
    said = [figures(line) for line in remarks(found, job, mm_text) if "high spot" in line]
    assert found.high_spot_within_deg is not None
    assert said == ([{within}] if found.high_spot_within_deg > VAGUE_DEG else [])


@pytest.mark.parametrize(
    ("times", "expected"), [(228.0, {"228"}), (1.5, {"1.5"}), (0.6, {"1/2"}), (0.05, {"1/20"}), (0.0003, {"1/3333"})]
)
def test_the_description_of_a_pictures_scale_matches_the_scale_drawn(times: float, expected: set[str]) -> None:
    """A scale above 1 is a multiple and one below 1 a fraction. The number in the words gives the scale."""
    found = figures(drawn_words(times))
    assert found == expected
    assert float(Fraction(*found)) == pytest.approx(times, rel=0.2)


@pytest.mark.parametrize("times", [0.96, 1.0, 1.04])
def test_a_picture_at_true_size_is_described_without_a_number(times: float) -> None:
    """A scale within a twentieth of true size is called true, so no number is shown."""
    assert figures(drawn_words(times)) == frozenset()
