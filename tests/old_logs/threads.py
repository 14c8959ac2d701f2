"""Records runs that cut threads: the keys of each start of the program."""

from tests.old_logs.program import Program
from tui.widgets.question import OneOf, YesNo

TOOL, WORK, HALF_NUTS, NOT_SURE = "1234"
"""What was moved, by the key of its answer."""
WONT_START, TIGHT, LOOSE, FITS = "2341"


async def screws(program: Program) -> None:
    """One run has every measurement and every trial, another every way of picking up. Others are unfinished."""
    await _every_measurement(program)
    await _every_move(program)
    await _two_starts(program)
    await _nut(program)


async def _every_measurement(program: Program) -> None:
    """All but the last measurement are undone. Then the gauge is tried, with each result in turn."""
    await program.start_run("Levelling screw")
    await program.count_to("measure")
    await program.ask("space", "1", *"9.21", "enter", "1", *"9.20+-.005", "enter")
    await program.ask("minus")
    await program.ask("space", "2", *"10.60", "enter", "0")
    await program.ask("minus")
    await program.ask("1", "5", *"1.0", "enter", *"10.90", "enter", "0")
    await program.ask("minus")
    await program.ask("space", "6", *"9.96", "enter", *"10.28", "enter", "1", *"10.27", "enter")
    await program.ask("minus")
    await program.ask_for("space", "4", text="0.87")
    await program.count_to("measure")
    await program.ask("space", "3", WONT_START)
    await program.count_to("measure")
    await program.ask("space", "3", TIGHT)
    await program.count_to("measure")
    await program.ask("space", "3", LOOSE)
    await program.ask("minus")
    await program.ask("space", "3", FITS)
    await program.count()
    await program.press("space")


async def _every_move(program: Program) -> None:
    """The thread is picked up after each kind of move, with a few passes after each.

    The run is closed while picking up once more.
    """
    await program.start_run("Spare levelling screw")
    await program.count_to("cut")
    await program.count(2)
    await program.ask("5", "1", TOOL)
    await _picked_up(program, "0.34", "1.10", "9.60")
    await program.count()
    await program.ask("5", "1", WORK)
    await _picked_up(program, "0", "0", "9.45")
    await program.count()
    await program.ask("5", "1", HALF_NUTS)
    await _picked_up(program, "0.98", "2.95", "9.30")
    await program.ask("minus")
    await program.ask_for("space", "4", text="0.85")
    await program.count()
    await program.ask("5", "1", NOT_SURE)
    await program.count_to("set")
    await program.ask_for("space", text="0.02")
    await program.leave()


async def _picked_up(program: Program, compound: str, cross_slide: str, pitch_diameter: str) -> None:
    """Find the groove again. Enter what both dials show, and the measured size."""
    await program.count_to("set")
    await program.ask_for("space", text=compound)
    await program.ask_for("space", text=cross_slide)
    await program.ask("space", "1", *pitch_diameter, "enter", "0")


async def _two_starts(program: Program) -> None:
    """One run sets its starts by the compound and is closed in the second start.

    Another sets them by the thread dial, is closed in the first start and is planned again.
    """
    await program.start_run("Quick screw")
    await program.count_to("measure")
    await program.ask("space", "1", *"22.15", "enter", "0")
    await program.count_to("measure")
    await program.ask("space", "7")
    await program.count_to("set", start=2)
    await program.count(3)
    await program.leave()

    await program.start_run("Quick screw by the flank")
    await program.count_to("cut")
    await program.count(2)
    await program.ask_for("2", text="0.58")
    await program.count()
    await program.ask("7", "1")
    await program.leave()


async def _nut(program: Program) -> None:
    """In a bore the compound's numbers run the other way. The run is closed at the measurement, after a spring pass."""
    await program.start_run("Nut of the levelling screw")
    await program.count_to("spring")
    await program.count()
    await program.ask("3", "1")
    await program.count()
    await program.leave()


async def fixture(program: Program) -> None:
    """A pinned compound, whose reading is entered at touch-off. A bore with straight infeed, hardly started."""
    await program.start_run("Thread for the inch backplate")
    while "compound" not in program.step.zeroed_dials:
        await program.count()
    await program.ask_for("space", text="0.013")
    await program.count_to("cut")
    await program.count(2)
    await program.ask_for("2", text="0.033")
    await program.leave()

    await program.start_run("Thread inside the clamp ring")
    await program.count(3)
    await program.ask_for("4", text="Bored to 18.52")
    await program.leave()


async def clamp_screw(program: Program) -> None:
    """In inches. The gauge is loose, and the user has not yet chosen what to do about it."""
    await program.start_run("Cut the clamp thread")
    await program.count_to("measure")
    await program.ask("space", "1", *".805", "enter", "1", *".8052", "enter")
    await program.count_to("measure")
    await program.ask("space", "3", LOOSE)


async def arbor(program: Program) -> None:
    """Some passes, then the program is switched off. The touch-off reading was entered for one dial."""
    await program.start_run("Cut the arbor thread")
    while not program.step.zeroed_dials:
        await program.count()
    await program.ask_for("2", text="0.2")
    await program.count_to("cut")
    await program.count(3)


async def arbor_changed(program: Program) -> None:
    """The blank is smaller than planned, so the remaining steps are planned again. Then a pass follows."""
    assert isinstance(program.screen, OneOf)
    await program.press("2")
    await program.until(YesNo)
    await program.press("0")
    await program.count()
    await program.leave()


async def without_a_job(program: Program) -> None:
    """A thread entered on the board. One end measures larger than the other, so spring passes come first."""
    await program.press("t")
    fields = program.screen.query_one("#field-thread")
    fields.focus()
    await program.press(*"M8")
    await program.press("f5")
    await program.until(YesNo)
    await program.press("1")
    await program.count_to("measure")
    await program.ask("space", "1", *"7.50", "enter", "1", *"7.40", "enter")
    await program.count()


async def past_its_limits(program: Program) -> None:
    """A second run of an operation whose first run is finished. The measurement shows the thread already too thin."""
    assert isinstance(program.screen, YesNo)
    await program.press("escape")
    await program.leave()
    await program.start_run("Levelling screw", another=True)
    await program.count_to("measure")
    await program.ask("space", "1", *"8.80", "enter", "0")
    await program.leave()
