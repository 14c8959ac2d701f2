"""Records runs that cut threads: the keys of each start of the program."""

from tests.old_logs.program import Program
from tui.widgets.question import OneOf, YesNo

TOOL, WORK, HALF_NUTS, NOT_SURE = "1234"
"""The answers to the question of what was moved, by key."""
WONT_START, TIGHT, LOOSE, FITS = "2341"


async def screws(program: Program) -> None:
    """Record a run with every measurement and trial, a run with every way of picking up, and unfinished runs."""
    await _every_measurement(program)
    await _every_move(program)
    await _two_starts(program)
    await _nut(program)


async def _every_measurement(program: Program) -> None:
    """Enter every measurement, and undo all but the last. Then try the gauge, with each result in turn."""
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
    """Pick up the thread after each kind of move, with a few passes after each.

    Close the run during one more picking up.
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
    """Find the groove again. Enter the readings of both dials and the measured size."""
    await program.count_to("set")
    await program.ask_for("space", text=compound)
    await program.ask_for("space", text=cross_slide)
    await program.ask("space", "1", *pitch_diameter, "enter", "0")


async def _two_starts(program: Program) -> None:
    """Set the starts of one run by the compound, and close the run in the second start.

    Set the starts of another run by the thread dial, close that run in the first start and plan it again.
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
    """Close a run in a bore at the measurement, after a spring pass. The compound's numbers run the other way."""
    await program.start_run("Nut of the levelling screw")
    await program.count_to("spring")
    await program.count()
    await program.ask("3", "1")
    await program.count()
    await program.leave()


async def fixture(program: Program) -> None:
    """Enter the reading of a pinned compound at touch-off. Hardly start a bore with straight infeed."""
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
    """Cut in inches until the gauge is loose. The user has not yet chosen how to continue."""
    await program.start_run("Cut the clamp thread")
    await program.count_to("measure")
    await program.ask("space", "1", *".805", "enter", "1", *".8052", "enter")
    await program.count_to("measure")
    await program.ask("space", "3", LOOSE)


async def arbor(program: Program) -> None:
    """Do some passes, then switch the program off. The touch-off reading was entered for one dial."""
    await program.start_run("Cut the arbor thread")
    while not program.step.zeroed_dials:
        await program.count()
    await program.ask_for("2", text="0.2")
    await program.count_to("cut")
    await program.count(3)


async def arbor_changed(program: Program) -> None:
    """Plan the remaining steps again for a smaller blank, then do a pass."""
    assert isinstance(program.screen, OneOf)
    await program.press("2")
    await program.until(YesNo)
    await program.press("0")
    await program.count()
    await program.leave()


async def without_a_job(program: Program) -> None:
    """Enter a thread on the board. One end measures larger than the other, so spring passes come first."""
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
    """Start a second run of a finished operation. The measurement shows that the thread is already too thin."""
    assert isinstance(program.screen, YesNo)
    await program.press("escape")
    await program.leave()
    await program.start_run("Levelling screw", another=True)
    await program.count_to("measure")
    await program.ask("space", "1", *"8.80", "enter", "0")
    await program.leave()
