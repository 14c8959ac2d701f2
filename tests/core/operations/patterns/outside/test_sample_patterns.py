"""The sample patterns can be cut, and have the sizes given in their comments."""

import itertools
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from core.jobs.card import card_data
from core.jobs.job import read_job
from tests.core.operations.patterns.outside.checking import disagreements, radii_off_mm
from tests.core.operations.patterns.outside.figures_again import land_percent
from tests.core.operations.patterns.outside.job_files import groove_width_mm, mm
from tests.core.operations.patterns.outside.test_layer_figures import wrong_figures
from tests.core.operations.patterns.outside.wanted import all_wanted, cutter_of

SAMPLES = Path(__file__).parents[5] / "sample_jobs"
NAMES = ("sundial_lid", "sundial_base", "gnomon_plate")


def tables(name: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the first operation of a sample and its lathe, as mappings."""
    job = tomllib.loads((SAMPLES / f"{name}.toml").read_text(encoding="utf-8"))
    return job["operation"][0], tomllib.loads((SAMPLES / job["lathe"]).read_text(encoding="utf-8"))


def gaps_mm(one: list[dict[str, Any]], other: list[dict[str, Any]]) -> float:
    """Return the least land between the grooves of two groups of circles that lie outside each other."""
    apart = [
        np.hypot(a["x_mm"] - b["x_mm"], a["y_mm"] - b["y_mm"]) - a["radius_mm"] - b["radius_mm"]
        for a in one
        for b in other
    ]
    return float(min(apart)) - (one[0]["width_mm"] + other[0]["width_mm"]) / 2


@pytest.mark.parametrize("name", NAMES)
def test_the_simulated_machine_cuts_each_sample_job_as_specified_in_the_job(name: str) -> None:
    """The simulated machine cuts each sample to half a mark, and the figures match the second calculation."""
    operation, lathe = tables(name)
    card = card_data(read_job(SAMPLES / f"{name}.toml"))["operations"][0]
    assert disagreements(operation, lathe, card) == []
    assert all(off <= 1 + 1e-6 for off in radii_off_mm(operation, lathe, card))
    assert list(wrong_figures(operation, lathe, card)) == []
    land = land_percent(card["figures"]["elements"], mm(operation["blank_diameter"]), cells=600)
    assert card["figures"]["land_percent"] == pytest.approx(land, abs=0.5)


def test_neighbouring_rings_of_the_sample_job_leave_land_between_their_grooves() -> None:
    """At least 1.6 mm between neighbouring rings and 0.9 mm to the middle ring, as in the comments. Measured."""
    elements = card_data(read_job(SAMPLES / "sundial_lid.toml"))["operations"][0]["figures"]["elements"]
    rings = [[one for one in elements if one["layer"] == 1 and (one["position"] - 1) // 6 == ring] for ring in range(8)]
    middle = [one for one in elements if one["layer"] == 2]
    assert min(gaps_mm(rings[ring - 1], rings[ring]) for ring in range(8)) == pytest.approx(1.6, abs=0.1)
    assert min(gaps_mm(ring, middle) for ring in rings) == pytest.approx(0.9, abs=0.1)


def test_the_spiral_chain_of_the_sample_job_leaves_land_between_its_turns() -> None:
    """Each circle crosses the one before. Land stays between the turns, and no depth exceeds the one before."""
    operation, lathe = tables("sundial_base")
    chain = all_wanted(operation)
    spacing = [float(np.hypot(*(one.place - other.place))) for one, other in itertools.pairwise(chain)]
    assert all(chord < 2 * 5 for chord in spacing)
    cutter = cutter_of(operation, operation["layer"][0], lathe)
    for one, other in zip(chain, chain[24:], strict=False):
        widths = (groove_width_mm(cutter, one.depth_mm), groove_width_mm(cutter, other.depth_mm))
        assert np.hypot(*(one.place - other.place)) - 10 - sum(widths) / 2 > 0.5
    cut = card_data(read_job(SAMPLES / "sundial_base.toml"))["operations"][0]["figures"]["elements"]
    depths = [one["depth_mm"] for one in cut]
    assert depths == sorted(depths, reverse=True) and (depths[0], depths[-1]) == (0.8, pytest.approx(0.3))


def test_no_sample_job_gets_a_caution_about_its_geometry() -> None:
    """Nothing runs off the blank, land is at least half a millimetre, and no patch stays bare."""
    for name in NAMES:
        cautions = card_data(read_job(SAMPLES / f"{name}.toml"))["operations"][0]["cautions"]
        assert not [text for text in cautions if "off the blank" in text or "uncut" in text or "beyond" in text], name
