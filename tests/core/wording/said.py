"""What pages are made of: a situation, and the sentences that the program says in it."""

from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from core.values.errors import CoreError, FileError


class Said(NamedTuple):
    """What the program says in one situation."""

    situation: str
    sentences: tuple[str, ...]


Page = Callable[[], Iterable[Said]]


def said(situation: object, *sentences: str) -> Said:
    """Return a situation, such as what was typed, and its sentences; empty ones are no sentences."""
    return Said(str(situation), tuple(sentence for sentence in sentences if sentence))


def refusal(call: Callable[..., object], *args: Any, **keys: Any) -> tuple[str, ...]:
    """Return the sentences with which a call is refused; raises AssertionError where it is not."""
    try:
        call(*args, **keys)
    except FileError as error:
        return error.messages
    except CoreError as error:
        return (f"{error.field}: {error.message}" if error.field else error.message,)
    raise AssertionError(f"{args} {keys} is not refused")


def keys_text(keys: dict[str, Any]) -> str:
    """Return the keys of a table on one line, as a file has them."""
    return ", ".join(f"{key.rstrip('_')} = {value!r}" for key, value in keys.items()) or "nothing"
