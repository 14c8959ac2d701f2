"""The figures of a plan in words hold none of the card's keys, and lengths are in the lathe's unit."""

from pathlib import Path

import pytest

from core.jobs.job import read_job
from core.pages.figure_words import figure_lines
from tests.core.figures import figures

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
JOBS = [path for path in sorted(SAMPLES.glob("*.toml")) if not path.stem.endswith("_lathe")]


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.stem)
def test_every_figure_key_has_a_readable_name(path: Path) -> None:
    """No name has an underscore or the unit of its key. On an inch lathe inches come before millimetres."""
    job = read_job(path)
    for operation in job.operations:
        for name, value in figure_lines(operation.plan.figures, job.lathe.unit):
            assert "_" not in name + value
            assert not name.endswith((" mm", " deg", " s", " ppm"))
            if job.lathe.unit == "in" and value.endswith("mm"):
                raise AssertionError(f"{name}: {value}")


def test_figures_are_shown_with_their_units() -> None:
    """Worked by hand: 25.4 mm is 1 in, and 600 s are 10 min. Usual values are not shown."""
    plan_figures = {
        "internal": False,
        "starts": 2,
        "blank_mm": 25.4,
        "rpm_most": 75.0,
        "stop_time_s": 1.5,
        "estimated_time_s": 600.0,
        "worst_error_arcsec": 12.5,
        "change_gears": [{"drivers": [40, 25], "driven": [20, 50], "lead_mm": 3.0, "error_ppm": 0.0}],
        "nearest_drills": [{"name": "8.5 mm", "mm": 8.5}, {"name": "#7", "mm": 5.1054}],
        "holes": [{"x_mm": 12.7, "y_mm": -12.7}],
    }
    assert [figures(value) for _, value in figure_lines(plan_figures, "in")] == [
        {"2"},
        {"1.0000", "25.4"},
        {"75"},
        {"1.5"},
        {"10"},
        {"12.5"},
        {"40", "20", "25", "50"},
        {"8.5"},
        {"7", "5.1054"},
        {"0.5000"},
    ]
