"""Builds one file that holds halfnut and every package it needs, and that any Python 3.11 or later can start.

    python3 .ci/one_file/build.py [halfnut.pyz]

The internet is needed to build the file, but not to start it. The same versions of the packages give the same bytes:
entries are sorted, all have one date, and no compiled modules are stored.
"""

import hashlib
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

PROJECT = Path(__file__).parents[2]
START = Path(__file__).with_name("start.py")
STARTED_BY = b"#!/usr/bin/env python3\n"
_DATE = (1980, 1, 1, 0, 0, 0)
"""The earliest date that a zip archive can hold. Every entry has this date."""
_INSTALLER_FILES = ("RECORD", "INSTALLER", "REQUESTED", "direct_url.json")
"""Files that pip writes beside a package. Some of them hold the folder that was installed from."""


def build(packages: Path, target: Path) -> None:
    """Write the archive `target` from a folder of installed packages. Raises ValueError for a compiled extension."""
    files = {path.relative_to(packages).as_posix(): path.read_bytes() for path in _files(packages)}
    compiled = sorted(name for name in files if name.endswith((".so", ".pyd", ".dylib")))
    if compiled:
        raise ValueError(f"These files run on one kind of computer only: {', '.join(compiled)}")
    digest = hashlib.sha256()
    for name in sorted(files):
        digest.update(f"{name}\0{len(files[name])}\0".encode())
        digest.update(files[name])
    with target.open("wb") as file:
        file.write(STARTED_BY)
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
            _add(archive, "__main__.py", START.read_bytes())
            _add(archive, "DIGEST", digest.hexdigest()[:16].encode())
            for name in sorted(files):
                _add(archive, f"packages/{name}", files[name])
    target.chmod(0o755)


def _files(packages: Path) -> list[Path]:
    files = (path for path in packages.rglob("*") if path.is_file())
    return [
        path
        for path in files
        if path.parts[len(packages.parts)] != "bin"
        and "__pycache__" not in path.parts
        and not (path.parent.suffix == ".dist-info" and path.name in _INSTALLER_FILES)
    ]


def _add(archive: zipfile.ZipFile, name: str, content: bytes) -> None:
    entry = zipfile.ZipInfo(name, _DATE)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.create_system = 3
    entry.external_attr = 0o644 << 16
    archive.writestr(entry, content, compresslevel=9)


def main() -> int:
    """Install the project and its packages into a temporary folder, and write the archive from that folder."""
    target = Path(sys.argv[1] if len(sys.argv) > 1 else "halfnut.pyz")
    with tempfile.TemporaryDirectory() as folder:
        install = [sys.executable, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
        install += ["--no-compile", "--only-binary", ":all:", "--no-binary", "halfnut", "--target", folder]
        subprocess.run([*install, str(PROJECT)], check=True)
        build(Path(folder), target)
    print(f"{target}: {target.stat().st_size / 1e6:.1f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
