"""The writes and syncs that a program requests from the kernel, recorded by strace."""

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from tests.trials.program import ROOT

CALLS = (
    "open,openat,creat,close,write,pwrite64,writev,pwritev,pwritev2,truncate,ftruncate,fallocate,"
    "fsync,fdatasync,sync_file_range,rename,renameat,renameat2,unlink,unlinkat,link,linkat"
)
"""All calls that change a file or a name. If a call cannot be parsed, an error is raised, and no call is skipped."""
_LINE = re.compile(r"^\d+ +(\w+)\((.*)\) += (-?\d+)")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"(\.\.\.)?')
_HARMLESS = {"writev"}


class Call(NamedTuple):
    """One system call that succeeded."""

    name: str
    texts: tuple[bytes, ...]
    numbers: tuple[int, ...]
    words: str
    result: int


def available() -> bool:
    """Return True if strace is installed and may be used."""
    if shutil.which("strace") is None:
        return False
    return subprocess.run(["strace", "-o", "/dev/null", "true"], capture_output=True, check=False).returncode == 0


def traced(code: str, arguments: Sequence[str], trace: Path) -> Iterator[Call]:
    """Run Python code under strace and yield its calls; raises CalledProcessError."""
    command = ["strace", "-f", "-xx", "-s", "100000", "-e", f"trace={CALLS}", "-o", str(trace)]
    subprocess.run([*command, sys.executable, "-c", code, *arguments], cwd=ROOT, check=True)
    with trace.open(encoding="ascii", errors="replace") as lines:
        for line in lines:
            found = _LINE.match(line)
            if found and int(found[3]) >= 0:
                yield _call(found[1], found[2], int(found[3]))
            elif "unfinished" in line:
                raise ValueError(f"more than one thread writes: {line[:80]}")


def _call(name: str, words: str, result: int) -> Call:
    texts = []
    for text, cut in _TEXT.findall(words):
        if cut:
            raise ValueError(f"{name} wrote more than strace was told to show")
        texts.append(bytes.fromhex(text.replace("\\x", "")))
    bare = _TEXT.sub("", words)
    numbers = tuple(int(number) for number in re.findall(r"(?<![\w.])-?\d+(?!\w)", bare))
    return Call(name, tuple(texts), numbers, bare, result)
