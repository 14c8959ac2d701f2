"""Gives the real program files and texts of strangers. The trial checks output, time and memory.

    python -m tests.trials.strangers

Each file is opened by `halfnut card` and by the program in a pseudo-terminal. The output must contain no control
sequence except the program's own, and no traceback. Nothing may be written outside the data and config folders. The
limits are 5 s of processor time, 150 MB, and 20 rows of errors followed by the number of further errors. Then a
megabyte is typed without a pause.
"""

import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from core.events.state import Origin
from core.logbook.logbook import Logbook
from tests.core.logbook.run_samples import begin
from tests.trials.program import ROOT, Program, own_environment

LONGEST_S, LARGEST_MB, MOST_LINES = 5.0, 150.0, 21
HEAD = 'format = 1\ntitle = "Pin"\n'
CHECK = '[[operation]]\nkind = "by_hand"\nname = "{name}"\ntext = "{text}"\n'
STEPS = 'kind = "turn"\nname = "Pin"\nfrom = "12 mm"\nto = "10 mm"\ncut = "0.5 mm"\nfinish = "0.1 mm"\n'
HOSTILE = {
    "clipboard": "\x1b]52;c;cm0gLXJmIH4=\x07",
    "title": "\x1b]0;owned\x07",
    "clear": "\x1b[2J\x1b[H",
    "answerback": "\x1b[6n\x1b[c\x05",
    "C1": "\x9b2J\x9d52;c;eA==\x9c",
    "bidi": "\u202egpj.exe\u2066",
    "zero": "\x00",
    "markup": "[bold]x[/bold] a[/ [@click=app.bell]y[/]",
    "long": "n" * 10_000,
    "wide": "漢" * 200,
    "combining": "e" + "\u0301" * 300,
}
LAYERS = (
    '[[operation.layer]]\nshape = "circles"\ncount = 360\noffset = "20 mm"\ncircle_radius = "8 mm"\ndepth = "{depth}"\n'
)
PATTERN = (
    'kind = "pattern"\nname = "it"\n[[operation.cutter]]\nname = "{text}"\ntip_angle = "90 deg"\n'
    '[[operation.layer]]\nshape = "dots"\ncutter = "{text}"\nat = [["1 mm", "2 mm"]]\ndepth = ["0.4 mm", "{text}"]\n'
)
RINGS = '[[operation.layer]]\nshape = "{shape}"\ncount = 2000\nrepeat = 2000\nrepeat_offset = "9 mm"\noffset = "9 mm"\n'
THREAD = 'kind = "thread"\nform = "60 deg"\nmajor = "20 mm"\npitch = "0.{} mm"\npasses = 5\nspring_passes = 0\n'
GEARS = "sixty_gears_lathe.toml"
WORK = {
    "a blank of 26.8 m": 'kind = "thread"\nthread = "M27"\nblank = "26800 mm"\n',
    "a blank of 268 mm": 'kind = "thread"\nthread = "M27"\nblank = "268 mm"\n',
    "a fine thread from a blank of 26.8 m": 'kind = "thread"\nthread = "M10x0.25"\nblank = "26800 mm"\n',
    "a pitch of 0.03 mm": 'kind = "thread"\nthread = "M10x0.03"\n',
    "a pitch of a micrometre": 'kind = "thread"\nform = "60 deg"\nmajor = "10 mm"\npitch = "0.001 mm"\n',
    "a million passes": 'kind = "turn"\nfrom = "99999 mm"\nto = "1 mm"\ncut = "0.05 mm"\n',
    "a face of a million passes": 'kind = "face"\ndial = "carriage"\nremove = "99999 mm"\ncut = "0.1 mm"\n',
    "a groove 100 m deep": 'kind = "groove"\ndial = "cross_slide"\ndepth = "99999 mm"\ncut = "0.01 mm"\n',
    "2 000 positions, deep": (
        'kind = "divide"\ndivisions = 2000\ndepth = "99999 mm"\ncut = "0.01 mm"\ndepth_dial = "cross_slide"\n'
    ),
    "layers, deep": 'kind = "pattern"\ncut = "0.001 mm"\n' + 12 * LAYERS.format(depth="90 mm"),
    "4 million positions a layer": 'kind = "pattern"\n' + 12 * RINGS.format(shape="dots"),
    "lists in lists for places": 'kind = "pattern"\n[[operation.layer]]\nshape = "dots"\nat = ' + 90 * "[" + 90 * "]",
    "places that are one": (
        'kind = "pattern"\n[[operation.layer]]\nshape = "dots"\nat = [\n' + 19_000 * '["1 mm", "2 mm"],\n' + "]\n"
    ),
    "layers with all their steps": 'kind = "pattern"\n' + 12 * LAYERS.format(depth="0.1 mm"),
}
"""Jobs with more work than a run may hold, or with the most work that it may hold."""
HARMLESS = re.compile(
    rb"\x1b\[[0-9;:?<>=$ ]*[A-Za-z~]|\x1b[()][A-Z0-9]|\x1b[=>78M]|"
    rb"\x1b\]22;[a-z]*(?:\x1b\\|\x07)|\x1bP[^\x1b]*\x1b\\|[\r\n\t\x08]"
)
"""Sequences that the program itself writes: they move, colour and switch modes, or set the pointer's shape (OSC)."""
MEGABYTE, PASTED = 1_000_000, "1234567 ab " * 300
CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


@dataclass
class Case:
    """A file, and whether the program can use it."""

    name: str
    content: bytes


def escaped(text: str) -> str:
    """Return a text escaped for a TOML string."""
    return "".join(f"\\u{ord(c):04X}" if ord(c) < 32 or 126 < ord(c) < 160 else c.replace("\\", "\\\\") for c in text)


def files() -> Iterator[Case]:
    """Yield files as strangers could write them, from nearly correct to hostile."""
    for name, text in HOSTILE.items():
        job = HEAD.replace("Pin", escaped(text)) + CHECK.format(name=escaped(text), text=escaped(text))
        yield Case(f"{name} in every text", job.encode())
        yield Case(f"{name} raw", (HEAD.replace("Pin", text) + text).encode("utf-8", "surrogatepass"))
        yield Case(f"{name} as a key", f'{HEAD}"{escaped(text)}" = 1\n'.encode())
        yield Case(f"{name} as a value", f'{HEAD}[[operation]]\n{STEPS}tip = "{escaped(text)}"\n'.encode())
        yield Case(f"{name} in a pattern", f"{HEAD}[[operation]]\n{PATTERN.format(text=escaped(text))}".encode())
    yield Case("50 MB", (HEAD + "#" * 50_000_000).encode())
    yield Case("1 MB on one line", (HEAD + "x = '" + "a" * 990_000 + "'").encode())
    yield Case("100 000 operations", (HEAD + "[[operation]]\n" * 100_000).encode()[:50_000_000])
    yield Case("60 000 operations in 1 MB", (HEAD + "[[operation]]\n" * 60_000).encode())
    checks = "".join(CHECK.format(name=number, text="x") for number in range(14_000))
    yield Case("14 000 whole operations in 1 MB", (HEAD + checks).encode()[:999_000].rsplit(b"[[", 1)[0])
    yield Case("1 000 operations of 1 000 passes", (HEAD + many_passes()).encode())
    yield Case("a key of 100 kB of dots", (HEAD + "a." * 50_000 + "b = 1\n").encode())
    yield Case("keys of dots, many lines", (HEAD + "".join(f"{'a.' * 8}k{n} = 1\n" for n in range(30_000))).encode())
    dots = "".join(f"x{n} = {{{'a.' * 900}b = 1}}\n" for n in range(500))
    yield Case("inline tables with dots", (HEAD + dots).encode())
    yield Case("nested lists", (HEAD + "x = " + "[" * 1_900 + "]" * 90 + "\n").encode())
    yield Case("nested lists, many lines", (HEAD + "x = [\n" + "[\n" * 300_000).encode())
    yield Case("nested tables", (HEAD + "x = " + "{a = " * 300 + "1" + "}" * 300 + "\n").encode())
    yield Case("a number of 1 900 digits", (HEAD + "x = " + "9" * 1_900 + "\n").encode())
    yield Case("a hexadecimal number of 1 900 digits", (HEAD + "x = 0x" + "f" * 1_900 + "\n").encode())
    yield Case("blanks, many lines", (HEAD + (" " * 1_900 + "\n") * 500).encode())
    yield Case("blank lines", (HEAD + "\n" * 999_000).encode())
    yield Case(
        "tables of seven names, many lines", (HEAD + "".join(f"[a{n}.b.c.d.e.f.g]\n" for n in range(45_000))).encode()
    )
    yield Case("60 000 unknown keys", (HEAD + "".join(f"k{n} = 1\n" for n in range(60_000))).encode())
    for name, table in WORK.items():
        yield Case(name, f'{HEAD}[[operation]]\nname = "it"\n{table}'.encode())
    for name in ("a million passes", "2 000 positions, deep"):
        many = "".join(f'[[operation]]\nname = "{number}"\n{WORK[name]}' for number in range(1_000))
        yield Case(f"1 000 times {name}", (HEAD + many).encode())
    threads = "".join(
        f'[[operation]]\nname = "{number}"\n{THREAD.format(3_000 + 7 * number)}' for number in range(1_000)
    )
    yield Case("1 000 threads of 1 000 pitches, 60 change gears", f'{HEAD}lathe = "{GEARS}"\n{threads}'.encode())
    for path in ("/proc/kmsg", "/proc/self/mem", "/dev/zero", "/dev/stdin", "/dev/tty"):
        yield Case(f"the lathe {path}", f'{HEAD}lathe = "{path}"\n[[operation]]\n{STEPS}'.encode())
    yield Case("no text at all", bytes(range(256)) * 100)
    yield Case("UTF-16", HEAD.encode("utf-16"))
    yield Case("empty", b"")


def many_passes() -> str:
    """Return a job with as many cuts as the format allows."""
    cut = STEPS.replace("12 mm", "60 mm").replace("0.5 mm", "0.05 mm").replace("0.1 mm", "0.05 mm")
    return "".join("[[operation]]\n" + cut.replace('"Pin"', f'"{number}"') for number in range(1_000))


def sixty_gears() -> str:
    """Return a sample lathe with as many change gears as a lathe may have."""
    lathe = (ROOT / "sample_jobs" / "metric_lathe.toml").read_text()
    teeth = ", ".join(str(number) for number in range(20, 80))
    return re.sub(r"(\[change_gears\]\nteeth = )\[[^]]*\]", rf"\1[{teeth}]", lathe)


def measured(*words: str, folder: Path) -> tuple[float, float, bytes, int]:
    """Run a command. Return its processor time [s], its largest memory [MB], its output and its exit status."""
    before_s, largest_kb = _children_s(), 0
    with tempfile.TemporaryFile() as printed:
        process = subprocess.Popen(
            [sys.executable, "-m", "tui", *words],
            cwd=ROOT,
            env=own_environment(folder / "data"),
            stdout=printed,
            stderr=subprocess.STDOUT,
        )
        while process.poll() is None:
            # The kernel's own figure of a process that has ended also counts what it was started from.
            largest_kb = max(largest_kb, _size_kb(process.pid))
            time.sleep(0.01)
        printed.seek(0)
        return _children_s() - before_s, largest_kb / 1024, printed.read(), process.returncode


def _children_s() -> float:
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


def _size_kb(pid: int) -> int:
    try:
        status = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0
    found = re.search(r"VmHWM:\s*(\d+)", status)
    # Until the child has become the program, it is as large as this process.
    return int(found[1]) if found and "tui" in Path(f"/proc/{pid}/cmdline").read_text() else 0


def complaints_of(told: bytes, taken_s: float, size_mb: float) -> Iterator[str]:
    """Yield each fault in the output, the time or the memory of a command."""
    if CONTROL.search(_text(told).replace("\n", "")):
        yield f"control characters came out: {told[:200]!r}"
    if b"Traceback" in told:
        yield f"a traceback: {told[-300:]!r}"
    errors = told.count(b"halfnut: ")
    if errors > MOST_LINES:
        yield f"{errors} lines of errors"
    if taken_s > LONGEST_S or size_mb > LARGEST_MB:
        yield f"{taken_s:.1f} s, {size_mb:.0f} MB"


def _text(told: bytes) -> str:
    return told.decode("utf-8", "replace")


def on_screen(path: Path, folder: Path, longest_s: float) -> Iterator[str]:
    """Open a file in the program. Yield each fault of its output to the terminal."""
    begun = time.monotonic()
    program = Program(folder / "data", path)
    ended = False
    while time.monotonic() - begun < 4 * longest_s and not ended and "Ctrl+Q" not in program.read():
        ended = not program.child.isalive()
    program.settle(0.2)
    if ended:
        rest = bytes(program.written)
        if b"Traceback" in rest:
            yield f"a traceback: {rest[-300:]!r}"
    else:
        program.press("\r")
        program.settle(0.2)
        program.press("\x1b")
        try:
            if program.leave() != 0:
                yield "it did not end with 0"
        except TimeoutError:
            program.kill()
            yield "it did not end"
    left = HARMLESS.sub(b"", bytes(program.written))
    if bad := CONTROL.search(_text(left)):
        yield f"{bad[0]!r} reached the terminal: {left[max(bad.start() - 40, 0) : bad.start() + 60]!r}"


def untouched(before: Mapping[Path, float], folder: Path) -> Iterator[str]:
    """Yield every file outside the data and home folders that was created or changed."""
    for path, when in stamps(folder).items():
        if before.get(path) != when and "data" not in path.relative_to(folder).parts[0]:
            yield f"{path.name} was written"


def stamps(*folders: Path) -> dict[Path, float]:
    """Return the time at which each file in some folders was written."""
    found = (path for folder in folders for path in folder.rglob("*") if path.is_file())
    return {path: path.stat().st_mtime for path in found}


def special(folder: Path) -> dict[str, Path]:
    """Create paths that are not regular files: links, pipes and devices. Return them by name."""
    made = {"endless": Path("/dev/zero"), "terminal": Path("/dev/tty"), "folder": folder}
    links = {"link to itself": "loop", "link to a password file": "/etc/shadow", "link to a pipe": "pipe"}
    os.mkfifo(folder / "pipe")
    for name, target in links.items():
        made[name] = folder / ("loop" if target == "loop" else f"{name}.toml")
        made[name].symlink_to(target if target.startswith("/") else folder / target)
    return made


def hostile_log(folder: Path) -> Iterator[str]:
    """Print, in every format, a log that contains hostile texts. Yield each fault."""
    with Logbook.open(folder / "data") as logbook:
        for text in HOSTILE.values():
            run = begin(logbook, origin=Origin(job_path=text, job_title=text, op_name=text))
            run.note(text)
            run.note(f"={text}")
            run.close()
    for form in ("text", "csv", "json"):
        words = ("--data", str(folder / "data"), "log", "--format", form)
        taken_s, size_mb, told, status = measured(*words, folder=folder)
        yield from complaints_of(told, taken_s, size_mb)
        if status:
            yield f"status {status}"
    program = Program(folder / "data", None)
    program.wait_for("Ctrl+Q")
    for key in ("\x1bOR", "\r", "\x1b[B", "\x1b"):
        program.press(key)
        program.settle(0.2)
    if program.leave() != 0:
        yield f"it did not end with 0:\n{program.shown}"
    left = HARMLESS.sub(b"", bytes(program.written))
    if bad := CONTROL.search(_text(left)):
        yield f"{bad[0]!r} reached the terminal from the history"


def typed_in_one_go(folder: Path) -> Iterator[str]:
    """Type a megabyte into a field as fast as the program reads it. Yield each fault."""
    program = Program(folder / "data", None)
    program.wait_for("Ctrl+Q")
    program.press("\x1b[24~")
    program.settle(0.5)
    pid = program.child.pid
    for _ in range(MEGABYTE // len(PASTED)):
        program.child.send(PASTED)
        program.read()
    largest_mb = _size_kb(pid) / 1024
    if largest_mb > LARGEST_MB:
        yield f"{largest_mb:.0f} MB"
    program.settle(1.0)
    begun = time.monotonic()
    try:
        if program.leave() != 0:
            yield "it did not end with 0"
    except TimeoutError:
        program.kill()
        yield "it did not end"
    if time.monotonic() - begun > LONGEST_S:
        yield f"it took {time.monotonic() - begun:.1f} s to end"


def main() -> int:
    """Print each trial and each file that was not refused."""
    failed, tried, slowest_s, largest_mb = 0, 0, 0.0, 0.0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        job = folder / "job.toml"
        paths = special(folder)
        (folder / GEARS).write_text(sixty_gears())
        cases: list[tuple[str, Path, bytes | None]] = [(case.name, job, case.content) for case in files()]
        cases += [(words, path, None) for words, path in paths.items()]
        for words, path, content in cases:
            if content is not None:
                job.write_bytes(content)
            before = stamps(folder)
            taken_s, size_mb, told, _ = measured("card", str(path), folder=folder)
            wrong = list(complaints_of(told, taken_s, size_mb))
            wrong += [*on_screen(path, folder, LONGEST_S), *untouched(before, folder)]
            first = _text(told).splitlines()[0][:90] if told else ""
            print(f"{words}: {taken_s:.2f} s, {size_mb:.0f} MB: {'; '.join(wrong) or first}", flush=True)
            failed, tried = failed + bool(wrong), tried + 1
            slowest_s, largest_mb = max(slowest_s, taken_s), max(largest_mb, size_mb)
        wrong = list(hostile_log(folder))
        print(f"a log of such texts: {'; '.join(wrong) or 'plain text'}")
        failed += bool(wrong)
        wrong = list(typed_in_one_go(folder))
        print(f"a megabyte typed in one go: {'; '.join(wrong) or 'as the field takes it'}")
        failed += bool(wrong)
    print(f"{tried + 1} files tried, {failed} failed; longest {slowest_s:.1f} s, largest {largest_mb:.0f} MB")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
