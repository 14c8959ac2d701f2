"""Writes jobs and lathes as files, and makes their cards."""

import math
import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

from core.jobs.card import card_data
from core.jobs.job import read_job

Tables = Mapping[str, Any]
MM_PER_UNIT = {"mm": 1.0, "in": 25.4, "thou": 0.0254}
"""An inch is 25.4 mm exactly: ISO 80000-3, from memory."""
DEG_PER_UNIT = {"deg": Fraction(1), "arcmin": Fraction(1, 60), "arcsec": Fraction(1, 3600)}


def mm(text: str) -> float:
    """Return a length from a file's text, in mm.

    >>> mm("10 thou")
    0.254
    """
    number, unit = text.split()
    return float(number) * MM_PER_UNIT[unit]


def deg(text: str) -> Fraction:
    """Return an angle from a file's text as an exact fraction of degrees.

    >>> deg("45 arcmin")
    Fraction(3, 4)
    """
    number, unit = text.split()
    return Fraction(number) * DEG_PER_UNIT[unit]


def job_text(*operations: Tables, lathe: str = "its_lathe.toml") -> str:
    """Return the text of a job file that holds these operations."""
    head = f'format = 1\ntitle = "Lid of the sundial"\nlathe = "{lathe}"\nmaterial = "hardwood"\n'
    return head + "".join(f"\n[[operation]]\n{toml_text(operation, 'operation.')}" for operation in operations)


def lathe_text(lathe: Tables) -> str:
    """Return the text of a lathe file."""
    return f'format = 1\nname = "Bench lathe"\n{toml_text(lathe, "")}'


def toml_text(table: Tables, path: str) -> str:
    """Return a mapping as TOML: first its values, then its tables, then its lists of tables."""
    values, tables = [], []
    for key, value in table.items():
        if isinstance(value, Mapping):
            tables.append(f"\n[{path}{key}]\n{toml_text(value, f'{path}{key}.')}")
        elif isinstance(value, list) and value and isinstance(value[0], Mapping):
            tables += [f"\n[[{path}{key}]]\n{toml_text(item, f'{path}{key}.')}" for item in value]
        else:
            values.append(f"{key} = {_value(value)}\n")
    return "".join([*values, *tables])


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_value, value))}]"
    return f'"{value}"' if isinstance(value, str) else str(value)


def write_files(folder: Path, operations: Sequence[Tables], lathe: Tables) -> Path:
    """Write a job and its lathe into a folder; return the job's path."""
    folder.joinpath("its_lathe.toml").write_text(lathe_text(lathe), encoding="utf-8")
    path = folder / "its_job.toml"
    path.write_text(job_text(*operations), encoding="utf-8")
    return path


def card_of(folder: Path, operation: Tables, lathe: Tables) -> dict[str, Any]:
    """Return the card of one operation; raises FileError if a file is refused."""
    card: dict[str, Any] = card_data(read_job(write_files(folder, [operation], lathe)))["operations"][0]
    return card


def length_text(length_mm: float) -> str:
    """Return a length as text for a file.

    >>> length_text(12.5), length_text(0.1 + 0.2)
    ('12.5 mm', '0.3 mm')
    """
    return f"{round(length_mm, 4):g} mm" if abs(length_mm) < 100 else f"{round(length_mm, 3)} mm"


def groove_width_mm(cutter: Tables, depth_mm: float) -> float:
    """Return the width of a groove at the face, which is twice the half-width of the point's profile at the face.

    The function finds it by bisection on the height of the profile, without the formula of the file format.
    """
    half_rad = math.radians(float(deg(cutter["tip_angle"]))) / 2
    flat_mm, nose_mm = mm(cutter.get("tip_flat", "0 mm")), mm(cutter.get("tip_radius", "0 mm"))

    def height_mm(from_middle_mm: float) -> float:
        """Return the height of the profile above its deepest place."""
        if not nose_mm:
            return max(0.0, from_middle_mm - flat_mm / 2) / math.tan(half_rad)
        # Where the arc has the slope of the flank, the flank continues as the tangent.
        tangent_mm = nose_mm * math.cos(half_rad)
        on_arc_mm = min(from_middle_mm, tangent_mm)
        arc_height_mm = nose_mm - math.sqrt(nose_mm**2 - on_arc_mm**2)
        return arc_height_mm + (from_middle_mm - on_arc_mm) / math.tan(half_rad)

    low, high = 0.0, 1000.0
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if height_mm(middle) <= depth_mm else (low, middle)
    return low + high


def line_of(text: str, word: str) -> str:
    """Return the first line of a text that contains a word; "" without such a line."""
    return next((line for line in text.splitlines() if re.search(word, line, re.IGNORECASE)), "")
