"""Events of a run: what was done, one after the other, as frozen records.

Their order is `seq`, never a clock: a small computer may start with any time.
Durations are differences of a monotonic clock inside one session, never across.
"""

import hashlib
import json
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from core.values.errors import EventError
from core.values.plain_text import clean, quoted

SCHEMA = 1
"""Version of the bodies' form; every `begun` has it."""

KINDS = ("begun", "done", "skipped", "reopened", "revised", "note", "finished", "abandoned", "undone")

LARGEST_NUMBER = 2**63 - 1


@dataclass(frozen=True, kw_only=True)
class Event:
    """One thing that happened in a run."""

    seq: int
    """0 for `begun`, then one more for each event of the run."""
    kind: str
    body: Mapping[str, Any]
    wall: str
    """Date and time with offset, as the clock of the computer had it; for people, not for order."""
    session: str
    """One text for each start of the program."""
    monotonic_ms: int
    """Time since any fixed moment of this session [ms]."""

    def __post_init__(self) -> None:
        """Refuse what cannot be written down and read back the same."""
        if self.kind not in KINDS:
            raise EventError(f"{quoted(self.kind)} is no kind of event; accepted are {', '.join(KINDS)}", field="kind")
        for name in ("seq", "monotonic_ms"):
            value = getattr(self, name)
            if type(value) is not int or not 0 <= value <= LARGEST_NUMBER:
                raise EventError(f"{name} = {quoted(value)} is no whole number from 0 to {LARGEST_NUMBER}", field=name)
        for name in ("wall", "session"):
            value = getattr(self, name)
            if not isinstance(value, str) or not value.isascii():
                raise EventError(f"{name} = {quoted(value)} is no text of plain characters", field=name)
        if not isinstance(self.body, Mapping):
            raise EventError(f"the body of an event is a table; found {quoted(self.body)}", field="body")

    def as_data(self) -> dict[str, Any]:
        """Return the event as plain data, for export."""
        return {
            "seq": self.seq,
            "kind": self.kind,
            "body": self.body,
            "wall": self.wall,
            "session": self.session,
            "monotonic_ms": self.monotonic_ms,
        }


def canonical(data: object) -> str:
    """Return plain data as its one JSON text: sorted keys, no blanks, ASCII.

    Raises EventError for what JSON cannot hold: not-a-number, infinity, a date, text and
    numbers mixed as keys.

    >>> canonical({"step": 7, "reason": "ran out"})
    '{"reason":"ran out","step":7}'
    """
    try:
        return json.dumps(data, sort_keys=True, separators=(",", ":"), allow_nan=False)
    except RecursionError:
        raise EventError("cannot be written to the logbook: nested too deeply") from None
    except (TypeError, ValueError) as error:
        raise EventError(
            f"cannot be written to the logbook: {clean(str(error))}; accepted are text, finite numbers, "
            "true, false, lists and tables"
        ) from None


def as_read_back(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return plain data as the logbook will give it back; raises EventError as `canonical` does.

    >>> as_read_back({"steps": (1, 2)})
    {'steps': [1, 2]}
    """
    read: dict[str, Any] = json.loads(canonical(data))
    return read


def checksum(run: str, event: Event, body_text: str) -> int:
    """Return the CRC-32 over the run's uid and all fields of the event, the body as it is written."""
    fields = [run, event.seq, event.kind, body_text, event.wall, event.session, event.monotonic_ms]
    return zlib.crc32(json.dumps(fields).encode("ascii"))


def digest(parameters: Mapping[str, Any], lathe_data: Mapping[str, Any]) -> str:
    """Return the SHA-256, in hex, of an operation's parameters and the lathe's raw data.

    Two digests differ when what a run was started with differs from what the files
    say now. Raises EventError for data that JSON cannot hold.
    """
    text = canonical({"lathe": lathe_data, "parameters": parameters})
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def time_between_ms(earlier: Event, later: Event) -> int:
    """Return the time between two events [ms]; 0 between two sessions, where nobody measured it."""
    if earlier.session != later.session:
        return 0
    return max(0, later.monotonic_ms - earlier.monotonic_ms)


def run_time_ms(events: Iterable[Event]) -> int:
    """Return how long the sessions of a run lasted together [ms], each from its first event to its last."""
    return sum(time_between_ms(earlier, later) for earlier, later in pairwise(events))
