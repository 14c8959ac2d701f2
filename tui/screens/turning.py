"""The turning screen: a diameter, a face or a groove, from one size to another in passes."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

from core.facing import face_dials
from core.lathe import dial_in_job, dial_key, dial_words
from core.pass_words import pass_say
from core.plan import Plan, Step
from tui.screens.operation import OperationScreen
from tui.widgets.figure_list import Figure
from tui.widgets.operation_form import Choice, Entry, OperationForm, Row

_REMOVE, _LENGTHS = "how much to remove", "length now and wanted"
_DIAMETERS, _DEPTH = "diameter now and wanted", "depth"
_PLACES = "two places of the slide"
_KEYS: Mapping[str, tuple[str, ...]] = {
    _REMOVE: ("remove",),
    _LENGTHS: ("length_now", "length"),
    _DIAMETERS: ("diameter_now", "diameter"),
    _DEPTH: ("depth",),
    _PLACES: ("from", "to"),
}
_WAYS = {"face": (_REMOVE, _LENGTHS, _PLACES), "groove": (_DIAMETERS, _DEPTH, _PLACES)}
_BY = "by"
"""The choice among the ways to say how much comes off; for the screen alone."""


class TurningScreen(OperationScreen):
    """Fills in one `turn`, `face` or `groove` operation."""

    HELP = (
        "Roughing cuts are equal and no deeper than you allow; then comes a cut as deep as the finishing cut, so that "
        "the tool springs alike in both, with a measurement before and after it.\n\n"
        "A face is always cut towards the chuck, with the carriage or with the compound swung along the bed. A groove "
        "goes straight in: towards the axis, in a bore away from it. Places of a cross-slide count as radius.\n\n"
        "A size wanted may be a fit or two limits: 30 g6, 28.98 to 29.00 mm. The passes aim at their middle, and the "
        "last measurement is judged by them.\n\n"
        "A bare number counts in the unit behind its field. What stands in brackets in an empty field counts if "
        "nothing is typed. + and - choose among words. Depths of cuts are on the radius."
    )

    def __init__(self, kind: str, parameters: Mapping[str, Any] | None = None) -> None:
        """`kind`: "turn", "face" or "groove"; `parameters`: the table of such an operation to begin with."""
        super().__init__(kind, parameters)
        if "dial" in self.given:
            self.given["dial"] = dial_in_job(dial_key(str(self.given["dial"])))

    def rows(self) -> Sequence[Row]:
        """Return the questions in the order in which a turner asks."""
        unit = self.halfnut.lathe.unit
        return (
            *self._where(unit),
            Entry(key="material", label="Material", hint="(not given)"),
            "How to cut",
            Entry(key="cut", label="Deepest cut", unit=unit, required=True),
            Entry(key="finish", label="Finishing cut", unit=unit),
        )

    def _where(self, unit: str) -> tuple[Row, ...]:
        if self.kind == "turn":
            return (
                "Which diameter",
                Choice(key="side", label="Side", options=(("outside", None), ("inside", "inside"))),
                Entry(key="from", label="Diameter now, measured", unit=unit, required=True),
                Entry(key="to", label="Diameter wanted", unit=unit, required=True, limits=True),
            )
        lathe, ways = self.halfnut.lathe, _WAYS[self.kind]
        given = next((way for way in ways if any(key in self.given for key in _KEYS[way])), ways[0])
        names = face_dials(lathe) if self.kind == "face" else list(lathe.dials)
        return (
            "Which slide, and how much",
            Choice(key="dial", label="Slide", options=_dials(names)),
            *self._side(),
            Choice(key=_BY, label="Given as", options=tuple((way, None) for way in ways), start=given),
            *(
                Entry(key=key, label=_LABELS[key], unit=unit, required=True, limits=key in _WITH_LIMITS)
                for way in ways
                for key in _KEYS[way]
            ),
        )

    def _side(self) -> tuple[Row, ...]:
        if self.kind == "face":
            return ()
        return (Choice(key="side", label="Side", options=(("outside", None), ("inside", "inside"))),)

    def unused(self, form: OperationForm) -> Collection[str]:
        """Return the fields of the other ways to say how much comes off."""
        if self.kind == "turn":
            return ()
        chosen = form.chosen(_BY)
        unused = {key for way in _WAYS[self.kind] if way != chosen for key in _KEYS[way]}
        # Two diameters say the side themselves.
        return unused | {"side"} if chosen == _DIAMETERS else unused

    def suggested_name(self) -> str:
        """Return what is cut to which size, or by how much."""
        if self.found is None:
            return self.title or self.kind
        say, found = self.halfnut.lathe.say, self.found
        to = found.wanted.text if found.wanted else say(found.to_mm)
        match self.kind, found.measured:
            case "turn", _:
                return f"Turn {say(found.from_mm).split()[0]} to {to}"
            case "face", "length":
                return f"Face to {to}"
            case "face", _:
                return f"Face off {say(found.total_mm)}"
            case _, "diameter":
                return f"Groove to {to}"
        return f"Groove {say(found.total_mm)} deep"

    def hints(self, plan: Plan) -> Mapping[str, str]:
        """Return the finishing cut that counts where none is typed."""
        return {"finish": self.halfnut.lathe.say(self.found.finish_mm)}

    def summary(self, plan: Plan) -> str:
        """Return how many cuts there are and where the last one ends."""
        direction = f" {self.found.direction}" if self.found.direction else ""
        return f"{plan.figures['passes']} cuts{direction}, the last: {self._reading(plan, -1)}."

    def figures(self, plan: Plan) -> Iterator[Figure]:
        """Return the cuts, the first and the last reading."""
        say, found = self.halfnut.lathe.say, self.found
        cuts = [step for step in plan.steps if step.action == "cut"]
        diameters = " diameter" if found.on_diameter else ""
        yield Figure("From", say(found.from_mm) + diameters)
        yield Figure("To", found.wanted_words(self.halfnut.lathe) + diameters)
        yield Figure("To take off", say(found.total_mm), "on the radius" if found.on_diameter else "of travel")
        if found.direction:
            yield Figure("First cut goes", found.direction)
        yield Figure("Cuts", str(len(cuts)))
        yield Figure("First cut", self._reading(plan, 0), self._takes(cuts[0]))
        yield Figure("Finishing cut", self._reading(plan, -1), self._takes(cuts[-1]))

    def _takes(self, cut: Step) -> str:
        return f"takes {pass_say(cut.removed_mm or 0.0, cut, self.halfnut.lathe)}"

    def _reading(self, plan: Plan, number: int) -> str:
        """Return what is set for one of the cuts."""
        dial = self.halfnut.lathe.dials[self.found.dial]
        setting = [step for step in plan.steps if step.action == "cut"][number].setting(dial.name)
        return f"{dial_words(dial.name)} to {dial.setting_text(setting)}" if setting else dial_words(dial.name)


def _dials(names: Sequence[str]) -> tuple[tuple[str, str | None], ...]:
    """Return the dials by the names they are spoken by; "none" where the lathe has none that serves."""
    return tuple((dial_words(name), dial_in_job(name)) for name in names) or (("none", None),)


_WITH_LIMITS = frozenset({"length", "diameter", "depth"})
"""Sizes that may be given as limits or as a fit."""
_LABELS = {
    "remove": "To remove",
    "length_now": "Length now, measured",
    "length": "Length wanted",
    "diameter_now": "Diameter now, measured",
    "diameter": "Diameter wanted",
    "depth": "Depth",
    "from": "From",
    "to": "To",
}
