"""The user's settings for pedals, instruments with a cable, the terminal's bell and the folder of jobs."""

import tomllib
from dataclasses import dataclass, fields
from pathlib import Path

from core.values.errors import FileError
from core.values.files import name_of, read_text, write_text
from core.values.plain_text import clean, sentence

INSTRUMENT_UNITS = ("", "mm", "in")
_LONGEST_KEY = 40
_LONGEST_PATH = 1_000


@dataclass(frozen=True)
class Controls:
    """The settings for pedals, instruments, the bell and the folder of jobs, as stored in `controls.toml`."""

    pedal: str = ""
    """The key that the counting pedal sends; "" if there is no pedal."""
    undo_pedal: str = ""
    """The key that the undo pedal sends; "" if there is no such pedal."""
    instrument_unit: str = ""
    """The unit of a number that an instrument sends without a unit; "" means the unit of the field or step."""
    bell: bool = False
    """True if the terminal's bell rings when a pass is logged, when logging fails and when the user has to measure."""
    jobs: str = ""
    """The absolute path of the folder of jobs, such as a folder on a stick; "" for the usual folder."""


def kept_controls(path: Path) -> tuple[Controls, str]:
    """Return the settings in the file `path`, and a sentence about what cannot be used in that file.

    Defaults replace settings that cannot be used or are missing. The sentence is "" if there is nothing to report.
    """
    if not path.exists():
        return Controls(), ""
    name = name_of(path)
    try:
        table = tomllib.loads(read_text(path))
    except FileError as error:
        return Controls(), (
            f"{sentence(error.messages[0])} The pedals, the instruments and the bell use the usual settings."
        )
    except (tomllib.TOMLDecodeError, RecursionError):
        return Controls(), (
            f"{name} cannot be read. Set the pedals, the instruments, the bell and the folder of jobs again."
        )
    controls, wrong = {}, []
    for field in fields(Controls):
        value = table.get(field.name, field.default)
        if _is_allowed(field.name, value):
            controls[field.name] = value
        else:
            wrong.append(field.name)
    problem = f"In {name}, the value of {', '.join(wrong)} cannot be used. Set it again." if wrong else ""
    return Controls(**controls), problem


def _is_allowed(name: str, value: object) -> bool:
    if name == "bell":
        return isinstance(value, bool)
    if name == "jobs":
        return value == "" or (isinstance(value, str) and is_jobs_folder(Path(value)))
    if name == "instrument_unit":
        return value in INSTRUMENT_UNITS
    if not isinstance(value, str) or len(value) > _LONGEST_KEY or value != clean(value):
        return False
    from tui.pedal import pedal_refusal

    return not value or not pedal_refusal(value)


def is_jobs_folder(path: Path) -> bool:
    """Return True if a path can be saved as the folder of jobs.

    It must be absolute, have at most 1,000 characters, and contain only characters that can be typed.
    """
    return path.is_absolute() and len(str(path)) <= _LONGEST_PATH and clean(str(path), _LONGEST_PATH) == str(path)


def keep_controls(path: Path, controls: Controls) -> None:
    """Save the settings in a file for the next start. Raises FileError if the file cannot be written."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        reason = clean(error.strerror or "unknown reason")
        raise FileError([f"The folder {name_of(path.parent)} cannot be created ({reason})."]) from None
    lines = [
        "# Settings of pedals, instruments with a cable, bell and folder of jobs. The program writes this file.",
        f"pedal = {_text(controls.pedal)}",
        f"undo_pedal = {_text(controls.undo_pedal)}",
        '# Unit of a bare number from an instrument: "mm", "in", or "" for the unit of the field or step.',
        f"instrument_unit = {_text(controls.instrument_unit)}",
        f"bell = {'true' if controls.bell else 'false'}",
        '# Folder of jobs and exports, such as a folder on a stick; "" for the usual folder.',
        f"jobs = {_text(controls.jobs)}",
    ]
    write_text(path, "\n".join(lines) + "\n")


def _text(value: str) -> str:
    """Return `value` as a TOML string. Key names and paths need escapes only for backslashes and quotation marks."""
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
