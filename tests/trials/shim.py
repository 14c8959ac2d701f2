"""Makes the disk fail and the clock jump for a program under trial, without special rights."""

import errno
import shutil
import subprocess
from pathlib import Path

SOURCE = Path(__file__).with_name("shim.c")
ERRORS = {name: getattr(errno, name) for name in ("EIO", "ENOSPC", "EROFS", "EDQUOT", "ENOLCK", "EAGAIN")}


def available() -> bool:
    """Return True if there is a compiler that can build the library."""
    return shutil.which("cc") is not None


class Shim:
    """A preloaded library, and two files that tell it which calls fail and how wrong the clock is."""

    def __init__(self, folder: Path) -> None:
        """Build the library in `folder`. Raises CalledProcessError."""
        self._library = folder / "shim.so"
        self._fault, self._clock = folder / "fault", folder / "clock"
        compiler = ["cc", "-O1", "-shared", "-fPIC", "-o", str(self._library), str(SOURCE), "-ldl"]
        subprocess.run(compiler, check=True)

    @property
    def environment(self) -> dict[str, str]:
        """The environment variables that load the library into a program."""
        names = {"HALFNUT_TRIAL_FAULT": self._fault, "HALFNUT_TRIAL_CLOCK": self._clock}
        return {"LD_PRELOAD": str(self._library), **{name: str(path) for name, path in names.items()}}

    def fail(self, error: str, calls: str, passing: str = "") -> None:
        """Let system calls fail with `error` from now on.

        `calls` contains w for writes, s for syncs, t for truncating, o for creating, r for reads, R for reads of the
        write-ahead log, k and l for locks. With `passing` "12 3", 12 of these calls succeed, three fail, and all later
        calls succeed.
        """
        partial = self._fault.with_suffix(".new")
        partial.write_text(f"{ERRORS[error]} {calls} {passing}")
        partial.replace(self._fault)

    def mend(self) -> None:
        """Let all calls succeed again."""
        self._fault.unlink(missing_ok=True)

    def set_clock(self, wrong_by_s: int) -> None:
        """Make the wall clock wrong by some seconds from now on."""
        partial = self._clock.with_suffix(".new")
        partial.write_text(str(wrong_by_s))
        partial.replace(self._clock)
