"""Units for a screen: what is known is answered at once, the rest is looked up where no key waits for it."""

from pathlib import Path

from core.conversion.dimensions import Value
from core.conversion.pint_units import kept_units, pint_unit
from core.conversion.units import LONGEST_NAME, own_unit, unknown_unit


class UnitsBehind:
    """A table of units that never waits for pint; `look_up` does, and belongs in a thread of its own."""

    def __init__(self, cache_folder: Path | None) -> None:
        """`cache_folder`: where pint's answers are kept; may be unwritable."""
        self._cache_folder = cache_folder
        self._found: dict[str, Value | None] = {}
        self.wanted = ""
        """The unit asked last that is still to be looked up, "" where none is."""

    def __call__(self, name: str) -> Value:
        """Return what one of a unit is; raises QuantityError, and notes what is `wanted`, where it is not known yet."""
        found = own_unit(name) or self._found.get(name)
        if found is None:
            if name not in self._found and len(name) <= LONGEST_NAME:
                self.wanted = name
            raise unknown_unit(name)
        return found

    def read_kept(self) -> None:
        """Take over what earlier starts looked up."""
        if self._cache_folder is not None:
            self._found.update(kept_units(self._cache_folder))

    def look_up(self, name: str) -> Value:
        """Return what one of a unit is, asking pint where need be; raises QuantityError for what it does not know."""
        if known := own_unit(name):
            return known
        if name not in self._found and len(name) <= LONGEST_NAME:
            self._found[name] = pint_unit(name, self._cache_folder)
        found = self._found.get(name)
        if found is None:
            raise unknown_unit(name)
        return found
