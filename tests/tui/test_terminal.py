"""The terminal: what is found out about it, and how the real program behaves on a real one."""

import io
import os
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from pathlib import Path

import pexpect  # type: ignore[import-untyped]
import pyte
import pytest

from tests.tui.painted import contrast
from tui.arguments import UsageError, read_arguments
from tui.glyphs import Charset
from tui.presses import Presses
from tui.terminal import Asked, Dots, Terminal, complaint, detect
from tui.themes import DARK, DAYLIGHT, THEMES, keep_look, kept_look

ROOT = Path(__file__).parents[2]
UTF8 = {"LANG": "en_GB.UTF-8"}
JOB = """
format = 1
title = "Pin"
[[operation]]
kind = "turn"
name = "Turn the pin"
from = "12 mm"
to = "10 mm"
cut = "0.5 mm"
finish = "0.1 mm"
"""
ONE_SCREEN = """
import os, sys
from tui.__main__ import make_app
from tui.paths import user_paths
from tui.screens.base import BaseScreen
from tui.screens.help import HelpScreen
from tui.terminal import SYSTEM_CLOCK, detect

class Plain(BaseScreen[None]):
    TITLE = "Plain"
    BINDINGS = [("x", "fail", "Fail")]
    def action_fail(self): raise ZeroDivisionError("on purpose")

app = make_app(user_paths(), SYSTEM_CLOCK, detect(os.environ), opening=Plain)
app.run()
sys.exit(app.return_code or 0)
"""


@pytest.mark.parametrize(
    ("environment", "asked", "charset", "dots"),
    [
        (UTF8, "auto", "braille", "braille"),
        ({"LC_CTYPE": "UTF-8"}, "auto", "braille", "braille"),
        ({"LANG": "de_DE.ISO-8859-1"}, "auto", "ascii", "ascii"),
        ({"LANG": "C"}, "auto", "ascii", "ascii"),
        ({}, "auto", "ascii", "ascii"),
        ({"LC_ALL": "C", **UTF8}, "auto", "ascii", "ascii"),
        ({"TERM": "linux", **UTF8}, "auto", "console", "ascii"),
        ({"TERM": "linux", **UTF8}, "blocks", "console", "half"),
        ({"TERM": "linux", **UTF8}, "braille", "braille", "braille"),
        (UTF8, "blocks", "blocks", "quadrant"),
        (UTF8, "ascii", "ascii", "ascii"),
        ({"LANG": "C"}, "braille", "braille", "braille"),
    ],
)
def test_characters_by_terminal_and_locale(
    environment: dict[str, str], asked: Asked, charset: Charset, dots: Dots
) -> None:
    """The console gets what its fonts have, other locales than UTF-8 get ASCII, and --charset is the last word."""
    found = detect(environment, asked)
    assert (found.charset, found.dots) == (charset, dots)


def test_utf8_that_python_made_up_itself_does_not_count() -> None:
    """In the C locale Python sets LC_CTYPE to UTF-8 for itself; the terminal knows nothing of it."""
    assert detect({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, utf8_forced=True).charset == "ascii"


def test_colours_by_terminal() -> None:
    """Sixteen colours on the bare console, none where NO_COLOR is set (no-color.org)."""
    assert detect({"TERM": "linux", **UTF8}).sixteen_colours
    assert detect({"NO_COLOR": "1", **UTF8}).no_colour
    assert not detect(UTF8).one_look


class _Tty(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_complaint_names_the_stream() -> None:
    """What is no terminal, or is closed, is named; a real one is not complained of."""
    assert complaint({"standard input": _Tty()}, {"TERM": "xterm"}) == ""
    assert complaint({"standard input": _Tty(), "standard output": io.StringIO()}, {}).startswith("standard output")
    assert complaint({"standard input": None}, {}).startswith("standard input is not a terminal")
    assert "TERM=dumb" in complaint({"standard input": _Tty()}, {"TERM": "dumb"})


def test_text_of_all_looks_stands_out_seven_to_one() -> None:
    """WCAG 2.1, success criterion 1.4.6 (enhanced contrast): 7 to 1, of each colour used for text."""
    from rich.style import Style
    from textual.color import Color

    for theme in THEMES:
        ground = Color.parse(theme.background or "")
        for name, colour in theme.variables.items():
            if name.startswith("text"):
                style = Style(color=Color.parse(colour).rich_color, bgcolor=ground.rich_color)
                assert contrast(style) >= 7, (theme.name, name, contrast(style))


def test_look_is_kept(tmp_path: Path) -> None:
    """The look chosen last is found again; nonsense and nothing give daylight."""
    kept = tmp_path / "new" / "theme"
    assert kept_look(kept) == DAYLIGHT
    keep_look(kept, DARK)
    assert kept_look(kept) == DARK
    kept.write_bytes(b"\xff\xfe dark")
    assert kept_look(kept) == DAYLIGHT


# Held keys.


def test_a_held_key_is_alone_once() -> None:
    """Of a key held at 30 repeats a second only the first press is alone, and the next one after a pause."""
    presses = Presses(0.8)
    times = [10.0, *(10.5 + repeat / 30 for repeat in range(60)), 13.4]
    for time_s in times:
        assert presses.note(time_s, "space", 1)
    assert [time_s for time_s in times if presses.alone(time_s)] == [10.0, 13.4]


def test_a_bounce_counts_once_even_when_its_action_comes_late() -> None:
    """Both presses of a bounce are noted before the action of the first runs: that one counts, the second not."""
    presses = Presses(0.8)
    presses.note(5.0, "space", 1)
    presses.note(5.01, "space", 1)
    counted = []
    for time_s in (5.0, 5.01):
        assert presses.comes_back(time_s, "space", 1)
        counted.append(presses.latest_is_alone())
    assert counted == [True, False]


def test_enter_that_opened_a_question_does_not_answer_it() -> None:
    """A key still held when another screen comes is dropped until it has been let go of."""
    presses = Presses(0.8)
    assert presses.note(1.0, "enter", 1)
    assert not presses.note(1.5, "enter", 2)
    assert not presses.note(2.2, "enter", 2)
    assert presses.note(3.1, "enter", 2)


def test_enter_after_typing_answers_at_once() -> None:
    """A key typed between shows that a hand means it."""
    presses = Presses(0.8)
    assert presses.note(1.0, "enter", 1)
    assert presses.note(1.1, "4", 2)
    assert presses.note(1.2, "enter", 2)


def test_key_of_a_closed_question_does_nothing_below() -> None:
    """A key meant for a question that has gone meanwhile runs no action of the screen below."""
    presses = Presses(0.8)
    presses.note(1.0, "enter", 2)
    presses.note(1.001, "enter", 2)
    assert presses.comes_back(1.0, "enter", 2)
    assert not presses.comes_back(1.001, "enter", 1)


# The command line.


def test_arguments() -> None:
    """Commands, a job alone, options with = or a blank, and quantities that begin with a minus."""
    assert read_arguments([]).command == "screens"
    assert read_arguments(["pin.toml"]).job == Path("pin.toml")
    card = read_arguments(["--lathe=l.toml", "card", "pin.toml", "--format", "json"])
    assert (card.command, card.lathe, card.form) == ("card", Path("l.toml"), "json")
    assert read_arguments(["convert", "-0.5 mm"]).asked == "-0.5 mm"
    assert read_arguments(["card", "--", "--odd.toml"]).job == Path("--odd.toml")
    assert read_arguments(["log", "--backup", "b.db", "--verify"]).verify


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["card"], "needs a job file"),
        (["card", "a", "b"], '"b"'),
        (["convert", "1", "1/4", "in"], "in quotes"),
        (["--colour"], "--charset"),
        (["card", "a", "--format", "xml"], "markdown"),
        (["a", "--format", "json"], "card"),
        (["--lathe"], "needs a value"),
        (["--lathe="], "needs a name"),
        (["--charset", "utf"], "braille"),
        (["card", "a", "--verify"], "log"),
        (["--data", "a", "--data", "b"], "twice"),
    ],
)
def test_wrong_usage_is_one_sentence(words: list[str], told: str) -> None:
    """Wrong usage is told in a sentence that says what is accepted."""
    with pytest.raises(UsageError, match=told):
        read_arguments(words)


def _run(*words: str, **more: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "tui", *words]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False, **more)  # type: ignore[call-overload,no-any-return]


def test_no_terminal_is_told_and_does_not_hang() -> None:
    """Without a terminal the screens are refused with status 2 and one line."""
    done = _run(stdin=subprocess.DEVNULL)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert "not a terminal" in done.stderr


def test_wrong_usage_ends_with_two() -> None:
    """Wrong usage: status 2, one line, nothing printed; control characters of an argument are not echoed."""
    done = _run("--\x1b]0;owned\x07x")
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert "\x1b" not in done.stderr and "\x07" not in done.stderr


def test_file_errors_end_with_one(tmp_path: Path) -> None:
    """A job that is missing or wrong: status 1, one line an error, no traceback."""
    assert _run("card", str(tmp_path / "none.toml")).returncode == 1
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(JOB.replace('"12 mm"', '"12"').replace('"0.1 mm"', '"0.1 kg"'))
    done = _run("card", str(wrong))
    assert (done.returncode, done.stdout) == (1, "")
    assert len(done.stderr.splitlines()) == 2
    assert "Traceback" not in done.stderr


def test_help_and_version() -> None:
    """Both answer on standard output with status 0; the version is the project's."""
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    done = _run("--version")
    assert (done.returncode, done.stdout) == (0, f"halfnut {project['version']}\n")
    assert "halfnut card JOB" in _run("--help").stdout


@pytest.mark.parametrize("words", [["--help"], ["--version"], ["card", "JOB"], ["card", "JOB", "--format", "json"]])
def test_what_prints_loads_neither_screens_nor_unit_library(words: list[str], tmp_path: Path) -> None:
    """Help, version and card import none of textual, rich and pint."""
    job = tmp_path / "pin.toml"
    job.write_text(JOB)
    code = (
        "import sys; from tui.__main__ import main; status = main(sys.argv[1:]); "
        "loaded = {'textual', 'rich', 'pint'} & set(sys.modules); sys.exit(f'{loaded}' if loaded else status)"
    )
    command = [sys.executable, "-c", code, *(str(job) if word == "JOB" else word for word in words)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout


def test_reader_that_goes_away_is_no_error(tmp_path: Path) -> None:
    """`| head` ends the printing quietly; a full disk is told."""
    job = tmp_path / "pin.toml"
    job.write_text(JOB)
    card = f"{sys.executable} -m tui card {job}"
    done = subprocess.run(
        ["bash", "-c", f"{card} | true; echo ${{PIPESTATUS[0]}}"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (done.stdout, done.stderr) == ("0\n", "")
    with Path("/dev/full").open("w") as full:
        process = subprocess.run(
            [sys.executable, "-m", "tui", "card", str(job)],
            cwd=ROOT,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=60,
            check=False,
        )
    assert process.returncode == 1
    assert "No space left" in process.stderr and "Traceback" not in process.stderr
    closed = subprocess.run(
        ["bash", "-c", f"{card} >&-"], cwd=ROOT, capture_output=True, text=True, timeout=60, check=False
    )
    assert closed.returncode == 1
    assert "closed" in closed.stderr


def test_card_prints_in_a_locale_without_its_characters(tmp_path: Path) -> None:
    """A title that the locale's characters cannot say is printed as far as they can."""
    job = tmp_path / "pin.toml"
    job.write_text(JOB.replace("Pin", "Öse 漢"), encoding="utf-8")
    done = _run("card", str(job), env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0
    assert done.stdout.startswith("?SE ?")


# The real program in a pseudo-terminal.


class Run:
    """One screen of the program in a pseudo-terminal of 80 by 24."""

    def __init__(self) -> None:
        self.child = pexpect.spawn(
            sys.executable, ["-c", ONE_SCREEN], cwd=str(ROOT), dimensions=(24, 80), env=dict(os.environ), timeout=20
        )
        self.screen = pyte.Screen(80, 24)
        self.stream = pyte.ByteStream(self.screen)
        self.written = b""

    def until(self, text: str, seconds: float = 20.0) -> str:
        """Read until `text` stands on the screen; return the screen."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.read()
            if text in "\n".join(self.screen.display):
                return "\n".join(self.screen.display)
        raise AssertionError(f"{text!r} never came:\n" + "\n".join(self.screen.display))

    def read(self) -> None:
        """Take in what has been written."""
        try:
            found = self.child.read_nonblocking(65536, timeout=0.1)
        except (pexpect.TIMEOUT, pexpect.EOF):
            return
        self.written += found
        self.stream.feed(found)

    def end(self) -> int | None:
        """Read to the end and return the exit status."""
        end = time.monotonic() + 20
        while self.child.isalive() and time.monotonic() < end:
            self.read()
        self.read()
        self.child.close()
        status: int | None = self.child.exitstatus
        return status

    def echoes(self) -> bool:
        """Tell whether the terminal is as a shell wants it."""
        return bool(termios.tcgetattr(self.child.fileno())[3] & termios.ECHO)

    def state(self) -> str:
        """Return the process state as the kernel names it."""
        return Path(f"/proc/{self.child.pid}/stat").read_text().rsplit(")", 1)[1].split()[0]


@pytest.fixture
def run() -> Iterator[Run]:
    """Start the program, and see that it ends."""
    started = Run()
    started.until("F1 Help")
    yield started
    started.child.close(force=True)


@pytest.mark.parametrize(("number", "status"), [(signal.SIGTERM, 143), (signal.SIGHUP, 129)])
def test_told_to_end_it_gives_the_terminal_back(run: Run, number: signal.Signals, status: int) -> None:
    """SIGTERM and SIGHUP: status 128 + number, out of the second screen, mouse off, cursor back, echo on."""
    assert not run.echoes()
    run.child.kill(number)
    end = time.monotonic() + 20
    while not run.echoes() and time.monotonic() < end:
        run.read()
    assert run.echoes()
    assert run.end() == status
    for given_back in (b"\x1b[?1049l", b"\x1b[?1000l", b"\x1b[?25h"):
        assert given_back in run.written


def test_a_terminal_that_has_gone_ends_the_program(run: Run) -> None:
    """When the window is closed or the line drops, the program does not stay behind."""
    process = run.child.ptyproc
    process.fileobj.close()
    end = time.monotonic() + 20
    while process.isalive() and time.monotonic() < end:
        time.sleep(0.02)
    assert process.exitstatus == 129


def test_stopped_and_brought_back(run: Run) -> None:
    """SIGTSTP gives the terminal back; SIGCONT takes it again and paints the whole screen anew."""
    run.child.kill(signal.SIGTSTP)
    end = time.monotonic() + 20
    while run.state() != "T" and time.monotonic() < end:
        run.read()
    assert run.echoes()
    run.screen.reset()
    run.child.kill(signal.SIGCONT)
    assert "stand-in lathe" in run.until("F1 Help")
    assert not run.echoes()
    run.child.send("\x11")
    assert run.end() == 0
    assert run.written.endswith(b"\x1b[?1004l") or b"\x1b[?1049l" in run.written


def test_leaving_and_help_by_key(run: Run) -> None:
    """F1 as a terminal and as the console sends it, Esc back, Ctrl+C says how to leave, Ctrl+Q leaves with 0."""
    for key in ("\x1bOP", "\x1b[[A", "?"):
        run.child.send(key)
        run.until("Fail.")
        run.child.send("\x1b")
        run.until("x Fail  F1 Help")
    run.child.send("\x03")
    run.until("To leave press Ctrl+Q")
    run.child.send("\x11")
    assert run.end() == 0


def test_a_crash_gives_the_terminal_back_and_ends_with_one(run: Run) -> None:
    """A fault of the program itself: terminal restored, status 1, the fault told."""
    run.child.send("x")
    assert run.end() == 1
    assert b"\x1b[?1049l" in run.written
    assert b"on purpose" in run.written


def test_resized_down_to_nearly_nothing(run: Run) -> None:
    """Down to 20 by 5 and up again: still there, still painted."""
    for rows, columns in ((5, 20), (12, 40), (2, 10), (24, 80)):
        run.child.setwinsize(rows, columns)
        run.screen.resize(rows, columns)
        run.read()
    run.screen.reset()
    run.child.send("?")
    assert "stand-in lathe" in run.until("Help: Plain")


def test_console_look_uses_its_colours_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """On TERM=linux no bright ground, no 256 colours and no true colours are asked for."""
    monkeypatch.setenv("TERM", "linux")
    run = Run()
    run.until("F1 Help")
    run.child.send("\x11")
    assert run.end() == 0
    codes = {
        int(code)
        for part in run.written.split(b"\x1b[")[1:]
        if part.split(b"m")[0].replace(b";", b"").isdigit() and b"m" in part
        for code in part.split(b"m")[0].split(b";")
    }
    assert codes <= {0, 1, 7, 39, 49, *range(30, 38), *range(40, 48), *range(90, 98)}
    assert 97 in codes


def test_no_color_asks_for_none(monkeypatch: pytest.MonkeyPatch) -> None:
    """With NO_COLOR only bold, reverse and the terminal's own two colours are used."""
    monkeypatch.setenv("NO_COLOR", "1")
    run = Run()
    run.until("F1 Help")
    run.child.send("\x11")
    assert run.end() == 0
    codes = {
        code
        for part in run.written.split(b"\x1b[")[1:]
        if b"m" in part and part.split(b"m")[0].replace(b";", b"").isdigit()
        for code in part.split(b"m")[0].split(b";")
    }
    assert codes <= {b"0", b"1", b"7", b"39", b"49"}


def test_terminal_is_what_pictures_ask() -> None:
    """A terminal of which nothing is known has all characters."""
    assert Terminal() == detect(UTF8)
