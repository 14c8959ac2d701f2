"""The events of a run: one frozen record for each action, in order.

Their order is given by the number `seq`, never by a clock, because a small computer may start with a wrong date.
Durations are differences of a monotonic clock within one session.
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
"""The version of the layout of event bodies. The first event of every run, `begun`, holds this version."""

KINDS = ("begun", "done", "skipped", "reopened", "revised", "note", "finished", "abandoned", "undone")

LARGEST_NUMBER = 2**63 - 1


@dataclass(frozen=True, kw_only=True)
class Event:
    """One action in a run, as it is logged: its kind, its values, its number in the run and its times."""

    seq: int
    """0 for `begun`, then one more for each event of the run."""
    kind: str
    body: Mapping[str, Any]
    wall: str
    """Date and time with offset by the computer's clock. It is for people to read and does not give the order."""
    session: str
    """A text that is different at each start of the program."""
    monotonic_ms: int
    """Time since a fixed moment of this session [ms]."""

    def __post_init__(self) -> None:
        """Raise EventError if a value of the event would not be read back from the logbook unchanged."""
        if self.kind not in KINDS:
            raise EventError(f"{quoted(self.kind)} is not a kind of event. Use {', '.join(KINDS)}.", field="kind")
        for name in ("seq", "monotonic_ms"):
            value = getattr(self, name)
            if type(value) is not int or not 0 <= value <= LARGEST_NUMBER:
                raise EventError(
                    f"{name} = {quoted(value)} is not a whole number from 0 to {LARGEST_NUMBER}.", field=name
                )
        for name in ("wall", "session"):
            value = getattr(self, name)
            if not isinstance(value, str) or not value.isascii():
                raise EventError(
                    f"{name} = {quoted(value)} is not plain text. Use only ASCII characters: letters without "
                    "accents, digits and signs.",
                    field=name,
                )
        if not isinstance(self.body, Mapping):
            raise EventError(
                f"The body of an event must be a set of keys with values, not {quoted(self.body)}.", field="body"
            )

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
    """Return plain data as JSON with sorted keys, no spaces and only ASCII. Equal data always give the same text.

    Raises EventError for values that JSON cannot hold: not-a-number, infinity, a date, or keys of which some are text
    and others numbers.

    >>> canonical({"step": 7, "reason": "ran out"})
    '{"reason":"ran out","step":7}'
    """
    try:
        return json.dumps(data, sort_keys=True, separators=(",", ":"), allow_nan=False)
    except RecursionError:
        raise EventError(
            "This entry cannot be logged, because its values are nested too deeply. Enter fewer levels."
        ) from None
    except (TypeError, ValueError) as error:
        raise EventError(
            f"This entry cannot be logged: {clean(str(error))}. Enter only text, ordinary numbers, true, false, "
            "or lists of these."
        ) from None


def as_read_back(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return plain data in the form in which the logbook reads data back.

    Raises EventError for values that JSON cannot hold.

    >>> as_read_back({"steps": (1, 2)})
    {'steps': [1, 2]}
    """
    read: dict[str, Any] = json.loads(canonical(data))
    return read


def checksum(run: str, event: Event, body_text: str) -> int:
    """Return the CRC-32 of a run's uid and all fields of an event.

    `body_text`: the event's body, as the logbook stores it.
    """
    fields = [run, event.seq, event.kind, body_text, event.wall, event.session, event.monotonic_ms]
    return zlib.crc32(json.dumps(fields).encode("ascii"))


def digest(parameters: Mapping[str, Any], lathe_data: Mapping[str, Any]) -> str:
    """Return the SHA-256, in hex, of an operation's parameters and the lathe's raw data.

    If it differs from the digest in a run's log, the job or lathe file has changed since the run was started. Raises
    EventError for data that JSON cannot hold.
    """
    text = canonical({"lathe": lathe_data, "parameters": parameters})
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def time_between_ms(earlier: Event, later: Event) -> int:
    """Return the time between two events [ms]; 0 if they are from different sessions, because their clocks differ."""
    if earlier.session != later.session:
        return 0
    return max(0, later.monotonic_ms - earlier.monotonic_ms)


def run_time_ms(events: Iterable[Event]) -> int:
    """Return the total time of a run's sessions [ms]. A session lasts from its first event to its last event."""
    return sum(time_between_ms(earlier, later) for earlier, later in pairwise(events))
