"""The possible contents of a disk after a power cut, from the known writes and syncs of its files.

Until a file is synced, each of its sectors may hold any version since the last sync, independently of every other
sector. The same is true of the file's length. Names in the folder may be lost until the folder is synced. Most file
systems lose less (ext4 writes names and lengths in order), so a log that survives this model survives on them.
"""

import random
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

SECTOR = 512
Content = Mapping[str, bytes]
"""The files of the folder by name."""
Choice = Callable[[int], int]
"""Returns the number of the version that is on the disk, from the number of versions."""


@dataclass
class File:
    """One file: its content at the last sync, and every write since then."""

    versions: list[bytes] = field(default_factory=lambda: [b""])
    """The whole content: first as synced, then after each later write."""

    def write(self, place: int, data: bytes) -> None:
        """Write `data` into the file, starting at byte `place`."""
        before = self.versions[-1].ljust(place, b"\0")
        self.versions.append(before[:place] + data + before[place + len(data) :])

    def truncate(self, size: int) -> None:
        """Cut off or extend the file."""
        self.versions.append(self.versions[-1][:size].ljust(size, b"\0"))

    def sync(self) -> None:
        """Make the present content the content that is safely on the disk."""
        del self.versions[:-1]

    def on_disk(self, choice: Choice) -> bytes:
        """Return a content that a power cut could leave.

        `choice` selects a version for each sector and for the length.
        """
        if len(self.versions) == 1:
            return self.versions[0]
        size = len(self.versions[choice(len(self.versions))])
        found = bytearray(self.versions[0][:size].ljust(size, b"\0"))
        for place in self._touched():
            chosen = self.versions[choice(len(self.versions))][place : place + SECTOR]
            found[place : place + SECTOR] = chosen.ljust(SECTOR, b"\0")
        return bytes(found[:size])

    def _touched(self) -> list[int]:
        """Return the numbers of the sectors that differ between versions."""
        longest = max(map(len, self.versions))
        first, *others = (version.ljust(longest, b"\0") for version in self.versions)
        return [
            place
            for place in range(0, longest, SECTOR)
            if any(other[place : place + SECTOR] != first[place : place + SECTOR] for other in others)
        ]


@dataclass
class Folder:
    """A folder: its file names at the last sync, and the changes since then."""

    versions: list[dict[str, File]] = field(default_factory=lambda: [{}])

    @property
    def now(self) -> dict[str, File]:
        """The files under the names that programs see now."""
        return self.versions[-1]

    def change(self, **names: File | None) -> None:
        """Give names to files, passed as keyword arguments. The value None removes a name."""
        self.put(names)

    def put(self, names: Mapping[str, File | None]) -> None:
        """Give names to files. The value None removes a name."""
        after = self.now | names
        self.versions.append({name: file for name, file in after.items() if file is not None})

    def sync(self) -> None:
        """Make the present names the names that are safely on the disk."""
        del self.versions[:-1]

    def states(self, rng: random.Random, drawn: int) -> Iterator[Content]:
        """Yield contents that a power cut could leave.

        These are all writes, no unsynced write, each file alone, half of the sectors, and `drawn` contents at random.
        """
        pending = [file for file in self.now.values() if len(file.versions) > 1]
        for names in {0, len(self.versions) - 1}:
            yield self._content(names, lambda _: _newest)
            yield self._content(names, lambda _: _oldest)
        for one in pending:
            yield self._content(-1, lambda file, one=one: _newest if file is one else _oldest)
            # Only what was written to this file; and everything, with half of this file's last write.
            yield self._content(-1, lambda file, one=one: _halves() if file is one else _newest)
        for _ in range(drawn if pending else 0):
            yield self._content(rng.randrange(len(self.versions)), lambda _: rng.randrange)

    def _content(self, names: int, choice_for: "Callable[[File], Choice]") -> Content:
        return {name: file.on_disk(choice_for(file)) for name, file in self.versions[names].items()}


def _newest(count: int) -> int:
    return count - 1


def _oldest(count: int) -> int:
    return 0


def _halves() -> Choice:
    """Return a choice that takes the newest length, and for the sectors the last two versions alternately."""
    asked = 0

    def choice(count: int) -> int:
        nonlocal asked
        asked += 1
        return count - 1 - (asked % 2 == 0)

    return choice
