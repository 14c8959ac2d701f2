"""What a material adds to the usual cautions. Common practice, no source."""

import pytest

from core.safety import DUST, LEAD, ZINC, for_material


@pytest.mark.parametrize(
    "material",
    ["oak", "European Beech", "hard maple", "boxwood", "box", "lignum vitae", "African ebony", "rosewood", "yew",
     "walnut burr", "cast iron", "grey iron", "cast bronze", "birch plywood", "MDF"],
)  # fmt: skip
def test_dusty_materials(material: str) -> None:
    """Woods by whichever name, bronze and iron."""
    assert DUST in for_material(material)


@pytest.mark.parametrize("material", ["brass", "mild steel", "aluminium", "soapstone", "", None])
def test_materials_without_such_dust(material: str | None) -> None:
    """A wood's name inside another word is no wood."""
    assert DUST not in for_material(material)


def test_lead_and_zinc() -> None:
    """Leaded and free-cutting stock; zinc coats."""
    assert LEAD in for_material("leaded brass") and LEAD in for_material("Free-cutting mild steel")
    assert ZINC in for_material("galvanised plate")
