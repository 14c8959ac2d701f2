"""Reads a lathe file: every key, every refusal, all errors at once."""

from collections.abc import Callable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar, cast

from core.dials import Dial, Unit
from core.errors import FileError
from core.fields import Problem, Table
from core.files import name_of, read_toml, seems_there
from core.lathe import (
    LATHE_FORMAT,
    ChangeGears,
    ChasingDial,
    Chuck,
    CompoundScale,
    Indicator,
    Lathe,
    RotaryTable,
    Spindle,
)
from core.plain_text import clean, quoted
from core.quantities import MM_PER_INCH, Quantity

STAND_IN = Path(__file__).parent / "data" / "stand_in_lathe.toml"

MOST_CIRCLES = 150
"""Hole circles on all plates of a table: more than anyone owns, and few enough to be tried one by one."""

_Part = TypeVar("_Part")


def stand_in_lathe() -> Lathe:
    """Return the lathe that stands in until the user has described their own."""
    return lathe_from(read_toml(STAND_IN), STAND_IN.name, stand_in=True)


def find_lathe(lathe_path: Path | None, own_lathe: Path | None) -> Lathe:
    """Return the lathe to use: the one named, the user's own, or the stand-in; raises FileError."""
    if lathe_path is not None:
        return read_lathe(lathe_path)
    if own_lathe is not None and seems_there(own_lathe):
        return read_lathe(own_lathe)
    return stand_in_lathe()


def read_lathe(path: Path) -> Lathe:
    """Return the lathe in a file; raises FileError with every error in it."""
    return lathe_from(read_toml(path), name_of(path))


def lathe_from(data: Mapping[str, Any], where: str, *, stand_in: bool = False) -> Lathe:
    """Return the lathe in the tables of a file; raises FileError with every error in it."""
    problems: list[Problem] = []
    lathe = _lathe(data, where, problems, stand_in=stand_in)
    if problems:
        raise FileError([str(problem) for problem in problems])
    return lathe


def problems_in(data: Mapping[str, Any]) -> tuple[Problem, ...]:
    """Return all that is wrong with the tables of a lathe file, for one who asks for its keys one by one."""
    problems: list[Problem] = []
    _lathe(data, "", problems)
    return tuple(problems)


def _lathe(data: Mapping[str, Any], where: str, problems: list[Problem], *, stand_in: bool = False) -> Lathe:
    top = Table(data, where, problems)
    top.whole("format", required=True, least=LATHE_FORMAT, most=LATHE_FORMAT)
    wires, packing = _section(top, "stock", _stock) or ((), ())
    lathe = Lathe(
        name=top.text("name", required=True, longest=80) or "",
        stand_in=stand_in,
        centre_height_mm=top.length("centre_height", above=0),
        dials=_dials(top),
        compound=_section(top, "compound", _compound),
        leadscrew_mm=_section(top, "leadscrew", _leadscrew),
        chasing_dial=_section(top, "chasing_dial", _chasing_dial),
        change_gears=_section(top, "change_gears", _change_gears),
        gearbox_mm=_section(top, "gearbox", _gearbox) or (),
        spindle=_section(top, "spindle", _spindle) or Spindle(),
        rotary_table=_section(top, "rotary_table", _rotary_table),
        indicator=_section(top, "indicator", _indicator),
        chuck=_section(top, "chuck", _chuck) or Chuck(),
        wires_mm=wires,
        packing_mm=packing,
        data=data,
    )
    top.refuse_unknown()
    return lathe


def _section(top: Table, key: str, read: Callable[[Table], _Part | None]) -> _Part | None:
    """Read one table of the file, if it is there, and refuse what it holds besides."""
    table = top.table(key)
    if table is None:
        return None
    found = read(table)
    table.refuse_unknown()
    return found


def _dials(top: Table) -> dict[str, Dial]:
    dials: dict[str, Dial] = {}
    tables = top.table("dial")
    if tables is None:
        return dials
    for name in tables.data:
        table = tables.table(name)
        if table is None:
            continue
        table.where = f"{top.where}, [dial.{clean(name, 40)}]"
        if not name.replace("_", "").isalnum() or len(name) > 40:
            table.problem("", f"found the name {quoted(name)}; accepted are letters, digits and _")
        dial = _dial(name, table)
        table.refuse_unknown()
        if dial is not None:
            dials[name] = dial
    return dials


def _dial(name: str, table: Table) -> Dial | None:
    before = len(table.problems)
    graduation = table.quantity("graduation", "length", required=True, above=0)
    per_turn = table.quantity("per_turn", "length", above=0)
    reads = table.word("reads", ("travel", "diameter"), required=True)
    lead = table.quantity("lead", "length", above=0)
    backlash = table.quantity("backlash", "length", least=0)
    clockwise = table.word("clockwise", ("in", "out"))
    numbers = table.word("numbers", ("rise", "fall"))
    can_zero = table.flag("can_zero", True)
    most_speed = table.value("most_speed", "rotation", above=0)
    if graduation is not None and table.has("per_turn") == (per_turn is not None):
        _check_dial(table, graduation, per_turn, lead)
    if len(table.problems) > before or graduation is None:
        return None
    unit: Unit = "in" if graduation.is_inch else "mm"
    return Dial(
        name=name,
        unit=unit,
        graduation=_in_unit(graduation, unit),
        per_turn=None if per_turn is None else _in_unit(per_turn, unit),
        reads_diameter=reads == "diameter",
        lead_mm=None if lead is None else lead.value,
        backlash=Fraction(0) if backlash is None else _in_unit(backlash, unit),
        clockwise_goes=cast(Any, clockwise),
        rising_inwards=numbers != "fall",
        can_zero=can_zero,
        most_rpm=most_speed,
    )


def _check_dial(table: Table, graduation: Quantity, per_turn: Quantity | None, lead: Quantity | None) -> None:
    """Check what no single key can tell: whole graduations in a turn, one unit, a lead that has turns."""
    if per_turn is None:
        if lead is not None:
            table.problem("lead", "is given without per_turn; accepted is both, or neither (a readout)")
        return
    if per_turn.is_inch != graduation.is_inch:
        table.problem(
            "graduation",
            f"found {quoted(table.data['graduation'])} beside per_turn {quoted(table.data['per_turn'])}; "
            "accepted is one unit for both, the one engraved",
        )
    elif (per_turn.value / graduation.value).denominator != 1:
        table.problem(
            "graduation",
            f"found {quoted(table.data['graduation'])}, which does not go a whole number of times into "
            f"per_turn {quoted(table.data['per_turn'])}; accepted is a graduation that does",
        )


def _in_unit(quantity: Quantity, unit: Unit) -> Fraction:
    return quantity.value / MM_PER_INCH if unit == "in" else quantity.value


def _compound(table: Table) -> CompoundScale | None:
    zero = table.word("scale_zero", ("parallel", "perpendicular"), required=True)
    graduation = table.angle("scale_graduation", above=0, most=45)
    end = table.angle("scale_end", above=0, most=360)
    if zero is None:
        return None
    return CompoundScale(zero=cast(Any, zero), graduation_deg=graduation or 1.0, end_deg=end)


def _leadscrew(table: Table) -> Fraction | None:
    pitch = table.quantity("pitch", "pitch", required=True, above=0)
    return None if pitch is None else pitch.value


def _chasing_dial(table: Table) -> ChasingDial | None:
    teeth = table.wholes("teeth", least=2, most=400)
    lines = table.wholes("lines", least=1, most=100)
    if len(teeth) != len(lines):
        table.problem("lines", f"found {len(lines)} for {len(teeth)} wheels; accepted is one for each of teeth")
        return None
    return ChasingDial(wheels=tuple(zip(teeth, lines, strict=True))) if teeth else None


def _change_gears(table: Table) -> ChangeGears | None:
    teeth = table.wholes("teeth", least=8, most=400)
    ratio = _ratio(table, "fixed_ratio")
    if len(teeth) > 60:
        table.problem("teeth", f"found {len(teeth)} wheels; accepted are at most 60")
    return ChangeGears(teeth=teeth, fixed_ratio=ratio or Fraction(1)) if teeth else None


def _ratio(table: Table, key: str) -> Fraction | None:
    """Read a ratio such as "1/2"; a ratio of wheels, so no decimals."""
    text = table.text(key, longest=20)
    if text is None:
        return None
    above, _, below = text.partition("/")
    if above.strip().isdecimal() and (below or "1").strip().isdecimal():
        numbers = int(above), int(below or "1")
        if all(0 < number <= 10_000 for number in numbers):
            return Fraction(*numbers)
    table.problem(key, f'found {quoted(text)}; accepted is a ratio of whole numbers such as "1/2"')
    return None


def _gearbox(table: Table) -> tuple[Fraction, ...]:
    return tuple(pitch.value for pitch in table.quantities("pitches", "pitch", most=400) if pitch.value > 0)


def _spindle(table: Table) -> Spindle:
    speeds = table.quantities("speeds", "rotation", most=100)
    limits = table.quantities("range", "rotation", least=2, most=2)
    if speeds and limits:
        table.problem("range", "is given beside speeds; accepted is one of the two")
    if any(speed.value <= 0 for speed in (*speeds, *limits)):
        table.problem("speeds" if speeds else "range", "holds a speed that is not above 0 rpm")
    if len(limits) == 2 and limits[0].value >= limits[1].value:
        table.problem("range", "does not rise; accepted is the slowest speed, then the fastest")
    return Spindle(
        speeds_rpm=tuple(sorted(float(speed.value) for speed in speeds)),
        range_rpm=(float(limits[0].value), float(limits[1].value)) if len(limits) == 2 else None,
        reaction_time_s=table.value("reaction_time", "time", above=0, most=60) or 1.0,
        run_down_turns=table.number("run_down", least=0, most=1000),
        nose=cast(Any, table.word("nose", ("screwed", "flange", "cam"))),
        most_rpm=table.value("most_speed", "rotation", above=0),
    )


def _rotary_table(table: Table) -> RotaryTable | None:
    ratio = table.whole("ratio", required=True, least=1, most=1000)
    dial = table.quantity("dial_graduation", "angle", above=0, most=45)
    vernier = table.quantity("vernier", "angle", above=0, most=45)
    backlash = table.quantity("backlash", "angle", least=0, most=45)
    plates = []
    for plate in table.items("plates", "a list of plates, each a list of its hole circles", least=1, most=40):
        if not isinstance(plate, list) or not plate:
            table.problem("plates", f"found {quoted(plate)}; accepted is a list of lists such as [[15, 16, 17]]")
            break
        plates.append(table.checked_wholes("plates", plate, least=2, most=1000))
    circles = sum(len(plate) for plate in plates)
    if circles > MOST_CIRCLES:
        table.problem("plates", f"found {circles} circles; all plates together have at most {MOST_CIRCLES}")
    direct = table.wholes("direct", least=2, most=1000)
    if ratio is None:
        return None
    if vernier is not None and dial is None:
        table.problem("vernier", "is given without dial_graduation; accepted is a vernier on a dial")
    if dial is not None and (Fraction(360, ratio) / dial.value).denominator != 1:
        table.problem(
            "dial_graduation",
            f"found {quoted(table.data['dial_graduation'])}, which does not go a whole number of times into "
            f"one handle turn (360/{ratio} deg); accepted is a graduation that does",
        )
    if dial is not None and vernier is not None and (dial.value / vernier.value).denominator != 1:
        table.problem(
            "vernier",
            f"found {quoted(table.data['vernier'])}, which does not go a whole number of times into "
            f"dial_graduation {quoted(table.data['dial_graduation'])}; accepted is a vernier that does",
        )
    return RotaryTable(
        ratio=Fraction(ratio),
        dial_graduation_deg=None if dial is None else dial.value,
        vernier_deg=None if vernier is None else vernier.value,
        plates=tuple(plates),
        direct=direct,
        backlash_deg=Fraction(0) if backlash is None else backlash.value,
    )


def _indicator(table: Table) -> Indicator | None:
    graduation = table.quantity("graduation", "length", required=True, above=0, most=1)
    kind = table.word("kind", ("plunger", "lever"))
    if graduation is None:
        return None
    unit: Unit = "in" if graduation.is_inch else "mm"
    return Indicator(graduation_mm=float(graduation.value), kind=cast(Any, kind or "plunger"), unit=unit)


def _chuck(table: Table) -> Chuck:
    return Chuck(
        jaw_lead_mm=table.length("jaw_lead", above=0),
        jaw_face=cast(Any, table.word("jaw_face", ("narrow", "wide"))),
    )


def _stock(table: Table) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the wires and the packing in the drawer, sizes rising."""
    return _sizes(table, "wires"), _sizes(table, "packing")


def _sizes(table: Table, key: str) -> tuple[float, ...]:
    sizes = tuple(float(size.value) for size in table.quantities(key, "length"))
    if any(size <= 0 for size in sizes):
        table.problem(key, "holds a size that is not above 0 mm")
    return tuple(sorted(sizes))
