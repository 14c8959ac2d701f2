"""Cautions that a material adds to the usual ones. Common practice, no source."""

import pytest

from core.safety import DUST, LEAD, ZINC, for_material


@pytest.mark.parametrize(
    "material",
    ["oak", "European Beech", "hard maple", "boxwood", "box", "lignum vitae", "African ebony", "rosewood", "yew",
     "walnut burr", "cast iron", "grey iron", "cast bronze", "birch plywood", "MDF"],
)  # fmt: skip
def test_materials_with_harmful_dust_get_the_caution_to_wear_a_mask(material: str) -> None:
    """Dusty materials are woods by any name, bronze and iron."""
    assert DUST in for_material(material)


@pytest.mark.parametrize("material", ["brass", "mild steel", "aluminium", "soapstone", "", None])
def test_materials_without_harmful_dust_get_no_caution_about_dust(material: str | None) -> None:
    """The name of a wood within another word does not count."""
    assert DUST not in for_material(material)


def test_leaded_stock_and_zinc_coated_stock_each_get_their_own_caution() -> None:
    """The cautions apply to leaded and free-cutting stock, and to zinc coats."""
    assert LEAD in for_material("leaded brass") and LEAD in for_material("Free-cutting mild steel")
    assert ZINC in for_material("galvanised plate")
