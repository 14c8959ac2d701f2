"""The order of layers has as few changes as the best order found by a complete search."""

from itertools import pairwise, permutations

from hypothesis import given, settings
from hypothesis import strategies as st

from core.operations.patterns.order import LayerNeeds, cutting_order

NEEDS = st.builds(
    LayerNeeds,
    cutter=st.sampled_from(("wide", "acute", "other")),
    with_head=st.booleans(),
    circle_radius_mm=st.sampled_from((5.0, 8.0)),
    slide_mm=st.sampled_from((10.0, 20.0)),
    plates=st.sampled_from((frozenset({1}), frozenset({2}), frozenset({1, 2}))),
    tip_angle_deg=st.just(60.0),
)
ANGLES = {"wide": 120.0, "acute": 60.0, "other": 60.0}


def changes(order: tuple[int, ...], needs: tuple[LayerNeeds, ...]) -> tuple[int, int, int, int]:
    """Return the changes of cutter or holder, of the head's radius, of the plate and of the slide in an order.

    A new radius that follows from a new cutter in the head counts as part of the cutter change.
    """
    listed = [needs[index] for index in order]
    pairs = list(pairwise(listed))
    cutters = sum((one.cutter, one.with_head) != (other.cutter, other.with_head) for one, other in pairs)
    heads, in_head, radius = 0, None, None
    for need in listed:
        if need.with_head:
            heads += in_head == need.cutter and radius != need.circle_radius_mm
            in_head, radius = need.cutter, need.circle_radius_mm
        elif in_head == need.cutter:
            in_head = radius = None
    plates, mounted = 0, frozenset[int]()
    for need in listed:
        plates += bool(mounted) and not mounted & need.plates
        mounted = mounted & need.plates or need.plates
    return cutters, heads, plates, sum(one.slide_mm != other.slide_mm for one, other in pairs)


@settings(deadline=None, max_examples=40)
@given(st.lists(NEEDS, min_size=1, max_size=5))
def test_no_other_order_of_layers_needs_fewer_changes_at_the_machine(drawn: list[LayerNeeds]) -> None:
    """With up to five layers, the test tries every order."""
    needs = tuple(drawn)
    best = min(changes(order, needs) for order in permutations(range(len(needs))))
    order = cutting_order(needs, "fewest changes")
    assert sorted(order) == list(range(len(needs)))
    assert changes(order, needs) == best


@settings(deadline=None, max_examples=30)
@given(st.lists(NEEDS, min_size=1, max_size=5))
def test_layers_for_cutters_with_a_wide_point_come_before_layers_for_cutters_with_an_acute_point(
    drawn: list[LayerNeeds],
) -> None:
    """No acute cutter comes before a wide one. None of the other orders like this has fewer changes."""
    needs = tuple(need._replace(tip_angle_deg=ANGLES[need.cutter]) for need in drawn)
    angles = sorted((need.tip_angle_deg for need in needs), reverse=True)
    allowed = [
        order for order in permutations(range(len(needs))) if [needs[at].tip_angle_deg for at in order] == angles
    ]
    order = cutting_order(needs, "wide first")
    assert order in allowed
    assert changes(order, needs) == min(changes(one, needs) for one in allowed)


def test_with_the_written_layer_order_layers_are_cut_in_the_order_of_the_job_file() -> None:
    """The option "as written" keeps the order despite extra changes."""
    wide, acute = (LayerNeeds(name, True, 5, 10, frozenset(), angle) for name, angle in (("a", 120), ("b", 60)))
    assert cutting_order((acute, wide, acute, wide), "written") == (0, 1, 2, 3)


def test_a_job_of_twelve_layers_is_ordered_with_the_fewest_cutter_changes() -> None:
    """Twelve is the largest number of layers in a job. A complete search of their orders would take too long."""
    needs = tuple(
        LayerNeeds(f"cutter {k % 3}", k % 2 == 0, 5.0 + k // 4, 10.0 + k, frozenset({k % 2}), 60.0) for k in range(12)
    )
    order = cutting_order(needs, "fewest changes")
    cutters, *_ = changes(order, needs)
    assert cutters == 5
