"""The order of cutting the layers of a pattern: wide cutters first, with as few changes as possible."""

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from core.operations.patterns.layers import Layer, LayerOrder, PatternJob

_SEARCHED = 8
"""Up to this number of layers every order is compared. With more, only the best few hundred beginnings are kept."""
_BEGINNINGS = 300


class LayerNeeds(NamedTuple):
    """The tools and settings that a layer needs. Two layers with equal needs require no change between them."""

    cutter: str
    with_head: bool
    circle_radius_mm: float
    slide_mm: float
    plates: frozenset[int]
    """The dividing plates that divide the layer equally well; empty if the dial sets the table."""
    tip_angle_deg: float
    """Point angle of the cutter [deg]; -1 if it is unknown."""


class Changes(NamedTuple):
    """The numbers of changes between layers, by kind, the costliest kind first. Fewer changes compare as smaller.

    If a new radius comes with a new cutter in the boring head, only the change of cutter counts.
    """

    cutter: int = 0
    """Number of changes of cutter or holder."""
    head: int = 0
    """Number of changes of the circle radius."""
    plate: int = 0
    slide: int = 0

    def plus(self, other: "Changes") -> "Changes":
        return Changes(*(one + more for one, more in zip(self, other, strict=True)))


class _Beginning(NamedTuple):
    """The first layers of an order, with the state of the tools after them."""

    changes: Changes
    order: tuple[int, ...]
    head: tuple[str, float] | None
    """Cutter and circle radius of the boring head; None before it is set."""
    plates: frozenset[int]
    """The plates that can be on the table now."""


def layer_needs(job: PatternJob, layer: Layer, plates: frozenset[int] = frozenset()) -> LayerNeeds:
    """Return the tools and settings that a layer needs.

    `plates`: the numbers of the dividing plates that suit the layer.
    """
    cutter = layer.cutter
    first = layer.cut_positions[0]
    return LayerNeeds(
        cutter="" if cutter is None else cutter.name,
        with_head=layer.with_head,
        circle_radius_mm=layer.circle_radius_mm,
        slide_mm=round(job.polar_setting(layer, first).slide_mm, 6),
        plates=plates,
        tip_angle_deg=-1.0 if cutter is None else cutter.tip_angle_deg,
    )


def changes_between(one: LayerNeeds, other: LayerNeeds) -> Changes:
    """Return the changes of cutter or holder, and of the slide, from one layer to the next."""
    return Changes(
        cutter=int((one.cutter, one.with_head) != (other.cutter, other.with_head)),
        slide=int(one.slide_mm != other.slide_mm),
    )


@lru_cache(maxsize=64)
def cutting_order(needs: tuple[LayerNeeds, ...], wanted: LayerOrder) -> tuple[int, ...]:
    """Return the layer indexes in the order of cutting: fewest changes of cutter, then of head, plate and slide.

    If `wanted` is "wide first", no cutter with a smaller point angle comes before one with a wider angle. Of equally
    good orders, the result is the one nearest to the written order.

    >>> wide = LayerNeeds("wide", True, 9, 20, frozenset(), 120)
    >>> acute = LayerNeeds("acute", True, 9, 20, frozenset(), 60)
    >>> cutting_order((acute, wide, acute), "wide first"), cutting_order((acute, wide, acute), "fewest changes")
    ((1, 0, 2), (0, 2, 1))
    """
    indexes = tuple(range(len(needs)))
    if wanted == "written" or len(needs) == 1:
        return indexes
    beginnings = [_Beginning(Changes(), (), None, frozenset())]
    for _ in indexes:
        longer = [
            _with_layer(beginning, index, needs)
            for beginning in beginnings
            for index in _next_layers(beginning.order, needs, wanted)
        ]
        beginnings = _best(longer, None if len(needs) <= _SEARCHED else _BEGINNINGS)
    return min(beginnings).order


def _next_layers(order: tuple[int, ...], needs: Sequence[LayerNeeds], wanted: LayerOrder) -> list[int]:
    """Return the indexes of the layers that can come next; of several layers with equal needs, only the first.

    `order`: the indexes of the layers so far. `wanted`: the rule for the order.
    """
    left = [index for index in range(len(needs)) if index not in order]
    if wanted == "wide first":
        widest = max(needs[index].tip_angle_deg for index in left)
        left = [index for index in left if needs[index].tip_angle_deg == widest]
    return [index for index in left if needs.index(needs[index]) == index or _is_next_of_its_kind(index, left, needs)]


def _is_next_of_its_kind(index: int, left: Sequence[int], needs: Sequence[LayerNeeds]) -> bool:
    return next(other for other in left if needs[other] == needs[index]) == index


def _with_layer(beginning: _Beginning, index: int, needs: Sequence[LayerNeeds]) -> _Beginning:
    need, order = needs[index], beginning.order
    head = (need.cutter, need.circle_radius_mm) if need.with_head else beginning.head
    if beginning.head is not None and not need.with_head and beginning.head[0] == need.cutter:
        # Without its cutter, the head loses its radius.
        head = None
    both = beginning.plates & need.plates
    changes = beginning.changes
    if order:
        sets_head = need.with_head and beginning.head is not None and head != beginning.head
        more = changes_between(needs[order[-1]], need)
        changes = changes.plus(
            more._replace(
                head=int(sets_head and beginning.head is not None and beginning.head[0] == need.cutter),
                plate=int(bool(need.plates) and not both),
            )
        )
    return _Beginning(changes, (*order, index), head, both or need.plates)


def _best(beginnings: list[_Beginning], most: int | None) -> list[_Beginning]:
    """Return the best of all beginnings that contain the same layers and end with the same layer and tools.

    `most`: the largest number of beginnings to return; None for all.
    """
    best: dict[object, _Beginning] = {}
    for beginning in sorted(beginnings, key=lambda one: (one.changes, one.order)):
        kind = frozenset(beginning.order), beginning.order[-1], beginning.head, beginning.plates
        best.setdefault(kind, beginning)
    return list(best.values())[:most]
