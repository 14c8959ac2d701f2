"""What is said of a pattern before it is cut: what is unwise, how large errors may be, how a blank lies now."""

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Any

from core.inputs import PutBack
from core.lathe.lathe import Cutter
from core.lathe.reader import example_lathe
from core.operations.patterns.budget import budget_effects
from core.operations.patterns.effects import SetUpErrors, set_up_effects
from core.operations.patterns.fitting import fit_findings
from core.operations.patterns.put_back import FoundCut, put_back
from core.pages.figure_words import lines_for
from core.values.stepping import stepped
from tests.core.operations.dividing.rotary import lathe_with, pattern_keys
from tests.core.operations.patterns.divided import cautions_of, figures_of
from tests.core.operations.patterns.made import WIDE, grooves, job, layer, places
from tests.core.wording.said import Said, refusal, said

_LATHE = replace(example_lathe(), centre_height_mm=110.0)
_SLOTS = layer(12, 30, shape="slots", to_offset_mm=36.0)
_BORDER = layer(1, 42, shape="arcs", through=360)
_RINGS = layer(12, 14, 3.0), layer(12, 30, 5.0, start=9)
_BESIDE = layer(5, 6, 2.0, about_mm=(20.0, 0.0), repeat=2, repeat_offset_mm=10.0)
_DOTS = places((0.1, 0.0), (20.0, 0.0), (20.0, 1.4), shape="dots")
_ERRORS: dict[str, Any] = {"height_error_mm": 0.3, "eccentricity_mm": 0.1}


def page() -> Iterator[Said]:
    """Return what is said in each situation."""
    shallow, short = layer(6, 20, 8.0, depths_mm=(0.3,)), Cutter("short", 60, reach_mm=2.0)
    yield said("a layer hidden by another", *_own(layer(6, 20, 8.0, cutter=WIDE), shallow))
    yield said("a layer too large to search", *_own(layer(400, 20, 8.0, cutter=WIDE), layer(400, 20, depths_mm=(0.3,))))
    yield said("a groove wider than its circle", *_own(layer(6, 20, 2.0, circle_radius_step_mm=-0.4, spread=90)))
    yield said("thin land, off a blank near the bed", *_own(layer(12, 88, 22.1), blank_diameter_mm=200.0))
    yield said("a blank that fouls the bed", *_own(layer(), blank_diameter_mm=230.0))
    yield said("a reach nearly used", *_own(layer(depths_mm=(1.8,), cutter=short)))
    yield said("errors taken out", *_own(_DOTS, _SLOTS, _BORDER, _BESIDE, correct=True, face_runout_mm=0.6, **_ERRORS))
    yield said("errors not taken out", *_own(_DOTS, _SLOTS, _BORDER, _BESIDE, **_ERRORS))
    for name, wanted in (
        ("two rings", job(*_RINGS, blank_diameter_mm=80.0, height_error_mm=0.3)),
        ("a circle on the axis", job(layer(1, 0, 10.0), **_ERRORS)),
        ("layers of every shape", job(_BESIDE, _DOTS, _SLOTS, _BORDER, blank_diameter_mm=90.0, **_ERRORS)),
        ("a shallow groove", job(layer(6, 20, 5.0, depths_mm=(0.04,)))),
    ):
        effects = [*budget_effects(wanted, _LATHE), *set_up_effects(wanted, SetUpErrors(), _LATHE)]
        yield said(f"set-up errors: {name}", *(f"{one.cause}: {one.amount}; {one.meaning}" for one in effects))
        lines = lines_for(_LATHE, figures_of(wanted, _LATHE, cutter_changes=2, plate_changes=1), whole=True)
        yield said(f"figures: {name}", *(f"{key}: {text}" for key, text in lines))
    yield from _put_back()
    yield from _opened_again()


def _opened_again() -> Iterator[Said]:
    """A kept pattern, opened for other blanks and tables, and its numbers changed by keys."""
    ring = {"count": 7, "offset": "20 mm", "circle_radius": "8 mm", "depth": "0.5 mm"}
    kept = {**pattern_keys(ring, tip_angle="90 deg"), "with": "dial"}
    for blank in ("90 mm", "54 mm", "22 mm", ""):
        table = {**kept, "blank_diameter": blank} if blank else kept
        found = fit_findings(table, lathe_with(plates=True, direct=(24,)))
        yield said(f"kept, for a blank: {blank or 'none'}", *(f"{one.gravity}: {one.message}" for one in found))
    found = fit_findings(kept, replace(_LATHE, rotary_table=None))
    yield said("kept, without a table", *(f"{one.gravity}: {one.message}" for one in found))
    for text in ("", "0.6, 0.3", "30 H7"):
        yield said(f"made larger: {text or 'nothing'}", *refusal(stepped, text, "mm", Fraction(1, 20), 1))


def _own(*layers: Any, **keys: Any) -> list[str]:
    return cautions_of(job(*layers, **keys), _LATHE)


def _put_back() -> Iterator[Said]:
    """Cuts found again on a blank that was taken off."""
    begun, cuts = job(layer()), grooves(layer(4, 20.0, 4.0))
    found = [FoundCut(one, 20.0, one.angle_deg + 25) for one in cuts]
    yield said(
        "put back: four cuts found again",
        put_back(begun, [found[0]._replace(slide_mm=20.06), *found[1:]]).words(PutBack((0.0, 0.0), 0.0)),
    )
    slipped = found[2]._replace(slide_mm=22.0)
    near = grooves(places((20.0, 0.0), (22.0, 0.0), shape="dots"))
    (arc,) = grooves(layer(1, 20.0, shape="arcs", through=90))
    for situation, readings in (
        ("one cut found again", found[:1]),
        ("two cuts near to each other", [FoundCut(one, one.x_mm, 0.0) for one in near]),
        ("an arc", [found[0], FoundCut(arc, 20.0, 0.0)]),
        ("a slide past the axis", [found[0], found[1]._replace(slide_mm=-20.0)]),
        ("two readings, one slipped", [found[1], slipped]),
        ("four readings, one slipped", [found[0], found[1], slipped, found[3]]),
        ("three readings, two slipped", [found[1], slipped, found[3]._replace(slide_mm=21.0)]),
    ):
        yield said(f"put back: {situation}", *refusal(put_back, begun, readings))
