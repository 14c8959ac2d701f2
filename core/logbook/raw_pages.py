"""Reads events directly from the pages of a damaged logbook, without SQLite.

SQLite refuses a damaged file as soon as it finds the first error. But every event has its own checksum, so each page
can be read and each row can be checked separately. Source: "Database File Format" and "WAL-mode File Format" at
sqlite.org (B-tree pages 1.6, record format 2.1, frames of the write-ahead log 4.2).
"""

import os
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple, Self

from core.logbook.schema import PAGE_SIZE

Row = tuple[Any, ...]

_COLUMNS = 8
_LARGEST_ROW = 64_000_000
_INDEX_LEAF, _INDEX_INNER = 0x0A, 0x02
_LONGEST_INSIDE = (PAGE_SIZE - 12) * 64 // 255 - 23
_SHORTEST_INSIDE = (PAGE_SIZE - 12) * 32 // 255 - 23
_INTEGER_SIZES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}

_WAL_HEADER = 32
_FRAME_HEADER = 24


class WalFrame(NamedTuple):
    """One frame of the write-ahead log: a page in the version that one transaction wrote."""

    page_number: int
    commits: bool
    """True for the last frame of a transaction."""
    salt: bytes
    """A number that changes whenever the log restarts. Frames with another salt are older."""
    place: int


class PageSource:
    """The pages of a database file and of its write-ahead log.

    Methods raise OSError if the disk cannot read the files.
    """

    def __init__(self, path: Path, wal: Path) -> None:
        self._handles = [_opened(path), _opened(wal)]
        try:
            self.frames = list(self._find_frames())
        except OSError:
            self.__exit__()
            raise
        self._newest = {frame.page_number: frame.place for frame in self.frames}

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for handle in self._handles:
            if handle is not None:
                os.close(handle)

    def pages(self) -> Iterator[bytes]:
        """Yield every version of every page: first the pages of the file, then those of the write-ahead log.

        The oldest version in the write-ahead log comes first.
        """
        handle = self._handles[0]
        if handle is not None:
            for place in range(0, os.fstat(handle).st_size, PAGE_SIZE):
                yield _read(handle, place, PAGE_SIZE)
        for frame in self.frames:
            yield self.page_of(frame)

    def page_of(self, frame: WalFrame) -> bytes:
        return _read(self._handles[1], frame.place, PAGE_SIZE)

    def newest_page(self, number: int) -> bytes:
        """Return the newest version of page `number`."""
        if number in self._newest:
            return _read(self._handles[1], self._newest[number], PAGE_SIZE)
        return _read(self._handles[0], (number - 1) * PAGE_SIZE, PAGE_SIZE)

    def transactions(self) -> list[list[WalFrame]]:
        """Return the frames of each complete transaction in the write-ahead log, oldest transaction first."""
        if not self.frames:
            return []
        salt = self._salt()
        transactions: list[list[WalFrame]] = [[]]
        for frame in self.frames:
            if frame.salt == salt:
                transactions[-1].append(frame)
                if frame.commits:
                    transactions.append([])
        return transactions[:-1]

    def _salt(self) -> bytes:
        """Return the salt in the header of the write-ahead log.

        If the header is damaged, return the salt of the first frame.
        """
        header = _read(self._handles[1], 0, _WAL_HEADER)
        return header[16:24] if _sums(header[:24]) == header[24:32] else self.frames[0].salt

    def _find_frames(self) -> Iterator[WalFrame]:
        handle = self._handles[1]
        size = 0 if handle is None else os.fstat(handle).st_size
        last = size - _FRAME_HEADER - PAGE_SIZE
        for place in range(_WAL_HEADER, last + 1, _FRAME_HEADER + PAGE_SIZE):
            number, size_after = struct.unpack(">II", _read(handle, place, 8))
            salt = _read(handle, place + 8, 8)
            yield WalFrame(number, size_after != 0, salt, place + _FRAME_HEADER)


def rows_in(source: PageSource, pages: Iterator[bytes]) -> Iterator[Row]:
    """Yield every row that has as many columns as an event. The caller must check the checksum in the row."""
    for page in pages:
        for cell in _cells(page):
            try:
                yield from _row(_payload(source, page, cell))
            except (IndexError, ValueError, struct.error):
                # These bytes are no cell, or a damaged one. The next cell may be undamaged.
                continue


def _cells(page: bytes) -> list[int]:
    """Return the offset [bytes] of each cell in a page of an index.

    On an inner page, each cell starts with the number of a child page.
    """
    kind = page[0]
    if kind not in (_INDEX_LEAF, _INDEX_INNER):
        return []
    count = int.from_bytes(page[3:5], "big")
    first, child = (12, 4) if kind == _INDEX_INNER else (8, 0)
    count = min(count, (PAGE_SIZE - first) // 2)
    return [place + child for (place,) in struct.iter_unpack(">H", page[first : first + 2 * count])]


def _payload(source: PageSource, page: bytes, cell: int) -> bytes:
    """Return the whole content of a cell, including the part that is on overflow pages.

    `cell`: the offset of the cell in the page [bytes].
    """
    size, start = _varint(page, cell)
    if size > _LARGEST_ROW:
        raise ValueError("longer than any row")
    if size <= _LONGEST_INSIDE:
        return page[start : start + size]
    inside = _SHORTEST_INSIDE + (size - _SHORTEST_INSIDE) % (PAGE_SIZE - 4)
    inside = inside if inside <= _LONGEST_INSIDE else _SHORTEST_INSIDE
    (following,) = struct.unpack_from(">I", page, start + inside)
    return page[start : start + inside] + _spilled(source, following, size - inside)


def _spilled(source: PageSource, number: int, missing: int) -> bytes:
    """Return `missing` bytes from the chain of overflow pages that starts with page `number`."""
    parts: list[bytes] = []
    seen: set[int] = set()
    while missing > 0:
        if number == 0 or number in seen:
            raise ValueError("the chain of pages is broken")
        seen.add(number)
        page = source.newest_page(number)
        parts.append(page[4 : 4 + missing])
        missing -= PAGE_SIZE - 4
        (number,) = struct.unpack_from(">I", page)
    return b"".join(parts)


def _row(payload: bytes) -> Iterator[Row]:
    header_end, place = _varint(payload, 0)
    types: list[int] = []
    while place < header_end and len(types) <= _COLUMNS:
        column_type, place = _varint(payload, place)
        types.append(column_type)
    if len(types) != _COLUMNS:
        return
    values: list[Any] = []
    place = header_end
    for column_type in types:
        value, place = _value(payload, place, column_type)
        values.append(value)
    yield tuple(values)


def _value(payload: bytes, place: int, column_type: int) -> tuple[Any, int]:
    """Return the value of one column in a record, and the offset of the next column [bytes].

    `place`: the offset of this column in `payload` [bytes]. `column_type`: its serial type in SQLite's record format.
    """
    if column_type in (8, 9):
        return column_type - 8, place
    if column_type in _INTEGER_SIZES:
        end = place + _INTEGER_SIZES[column_type]
        return int.from_bytes(payload[place:end], "big", signed=True), end
    if column_type < 13 or column_type % 2 == 0:
        raise ValueError("a column of an event is never empty, a fraction or raw bytes")
    end = place + (column_type - 13) // 2
    return payload[place:end].decode("utf-8"), end


def _varint(data: bytes, place: int) -> tuple[int, int]:
    """Return the variable-length integer at the offset `place` [bytes], and the offset of the next value.

    The integer has up to nine bytes: seven bits from each of the first eight bytes, and eight bits from the ninth.
    """
    value = 0
    for count in range(8):
        byte = data[place + count]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, place + count + 1
    return value << 8 | data[place + 8], place + 9


def _sums(data: bytes) -> bytes:
    """Return the checksum of a write-ahead log's header, computed in the byte order that the header gives."""
    order = ">" if data[3] & 1 else "<"
    first = second = 0
    for one, other in struct.iter_unpack(f"{order}II", data):
        first = (first + one + second) & 0xFFFFFFFF
        second = (second + other + first) & 0xFFFFFFFF
    return struct.pack(">II", first, second)


def _opened(path: Path) -> int | None:
    return os.open(path, os.O_RDONLY) if path.exists() else None


def _read(handle: int | None, place: int, size: int) -> bytes:
    """Return `size` bytes of a file, from the offset `place` [bytes].

    Bytes after the end of the file are zeros. If `handle` is None, the file is missing and all bytes are zeros.
    """
    content = b"" if handle is None or place < 0 else os.pread(handle, size, place)
    return content.ljust(size, b"\0")
