"""Starts halfnut from the one file that holds the program and its packages.

The first start unpacks the packages into the user's cache folder, and later starts use them there. Python cannot keep
compiled modules of an archive, so every start from the archive itself would take seconds on a small computer.
"""

import os
import sys

if sys.version_info < (3, 11):  # noqa: UP036 - an older Python also reads this file.
    sys.exit(f"halfnut needs Python 3.11 or later. This is Python {sys.version_info[0]}.{sys.version_info[1]}.")

import atexit
import contextlib
import shutil
import tempfile
import time
import zipfile
import zlib
from pathlib import Path

_PREFIX = "program-"
_UNUSED_S = 30 * 24 * 3600
"""The time after which an unpacked version that nobody starts is deleted [s]."""


def cache_folder(archive_path: Path) -> Path:
    """Return the user's cache folder of halfnut, which the program itself uses too."""
    packages = str(archive_path / "packages")
    sys.path.insert(0, packages)
    from platformdirs import user_cache_path

    sys.path.remove(packages)
    folder = user_cache_path("halfnut", appauthor=False)
    # The program imports the unpacked package, because the stick may be pulled.
    for name in [name for name in sys.modules if name.partition(".")[0] == "platformdirs"]:
        del sys.modules[name]
    return folder


def unpacked(archive_path: Path, cache: Path) -> Path:
    """Return the folder of the unpacked packages, and unpack them if this is their first start.

    The folder gets its name when all its files are on the disk, so a power cut leaves no half of a program. If the
    cache folder cannot be written, the packages go to a temporary folder that is deleted at the end.
    """
    with zipfile.ZipFile(archive_path) as archive:
        folder = cache / (_PREFIX + archive.read("DIGEST").decode())
        if folder.is_dir():
            with contextlib.suppress(OSError):
                os.utime(folder)
            return folder
        try:
            cache.mkdir(parents=True, exist_ok=True)
            unfinished = Path(tempfile.mkdtemp(prefix=f".{_PREFIX}", dir=cache))
        except OSError:
            folder = Path(tempfile.mkdtemp(prefix="halfnut-"))
            atexit.register(shutil.rmtree, folder, ignore_errors=True)
            _extract(archive, folder)
            return folder
        try:
            _extract(archive, unfinished)
            if hasattr(os, "sync"):
                os.sync()
            unfinished.chmod(0o755)
            unfinished.rename(folder)
        except OSError:
            # Another start may have finished first.
            if not folder.is_dir():
                raise
        finally:
            shutil.rmtree(unfinished, ignore_errors=True)
    _delete_unused(cache, folder)
    return folder


def _extract(archive: zipfile.ZipFile, folder: Path) -> None:
    for entry in archive.infolist():
        if entry.filename.startswith("packages/"):
            target = folder / entry.filename.removeprefix("packages/")
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(archive.read(entry))


def _delete_unused(cache: Path, in_use: Path) -> None:
    """Delete the other versions that nobody has started for a month, and what an interrupted start left."""
    for pattern in (f"{_PREFIX}*", f".{_PREFIX}*"):
        for folder in cache.glob(pattern):
            with contextlib.suppress(OSError):
                if folder != in_use and time.time() - folder.stat().st_mtime > _UNUSED_S:
                    shutil.rmtree(folder)


def main() -> int:
    """Unpack the packages if necessary, and run the command line of halfnut."""
    archive_path = Path(__file__).parent.resolve()
    try:
        folder = unpacked(archive_path, cache_folder(archive_path))
    except (zipfile.BadZipFile, zlib.error, KeyError, ImportError):
        print(f"halfnut: {archive_path.name} is damaged. Copy the file again.", file=sys.stderr)
        return 1
    except OSError as error:
        print(f"halfnut: cannot unpack {archive_path.name}: {error.strerror}. Free some space.", file=sys.stderr)
        return 1
    sys.path[:] = [str(folder), *(entry for entry in sys.path if Path(entry or ".").resolve() != archive_path)]
    from tui.__main__ import main as run

    return run()


if __name__ == "__main__":
    sys.exit(main())
