"""Records runout checks: the keys of each start of the program."""

from tests.old_logs.program import Program
from tui.widgets.question import OneOf, YesNo


async def checks(program: Program) -> None:
    """Record one finished check, whose move removed the runout, and checks that are closed at every stage."""
    await _cured(program)
    await _in_the_first_turn(program)
    await _moves_to_be_made(program)
    await _two_planes(program)
    await _read_twice(program)
    await _read_before(program)


async def _read(program: Program, *readings: str) -> None:
    """Enter readings. Each must be logged."""
    for reading in readings:
        before = program.state.last_seq
        await program.enter(reading)
        assert program.state.last_seq > before, reading


async def _cured(program: Program) -> None:
    """Correct a reading and make the moves.

    The turn is read again in graduations, without a closing reading.
    """
    await program.start_run("Spigot in four jaws")
    await program.count()
    await _read(program, "0.08", "0.30")
    await program.ask("backspace")
    await program.press(*["backspace"] * 2)
    await _read(program, "03", "-0.08", "-0.03", "0.08")
    while program.state.cursor is not None:
        await program.count()
    await program.ask("enter", "1")
    await program.count()
    await program.press("slash")
    await _read(program, "0", "0", "-1", "+1")
    await program.ask("k")
    while program.state.cursor is not None:
        await program.count()
    await program.press("enter", "2")


async def _in_the_first_turn(program: Program) -> None:
    """Enter readings with units and a note, and repeat one mark."""
    await program.start_run("Spigot in four jaws", another=True)
    await program.count()
    await _read(program, "2 thou", "0.02")
    await program.ask_for("n", text="The jaws are new")
    await program.ask("g", "1")
    await program.leave()


async def _moves_to_be_made(program: Program) -> None:
    """Enter readings that show a runout, but make none of the moves."""
    await program.start_run("Bar in three jaws")
    await program.count()
    await _read(program, "0", "0.12", "-0.04", "0.01")
    await program.count()
    await program.leave()


async def _two_planes(program: Program) -> None:
    """Close the run in the second plane."""
    await program.start_run("Bar at two places")
    await program.count()
    await _read(program, "0.08", "0.03", "-0.08", "-0.03", "0.08")
    await program.count()
    await _read(program, "-0.05", "0.01")
    await program.leave()


async def _read_twice(program: Program) -> None:
    """Close the run while the same turn is read a second time."""
    await program.start_run("Face of the plate")
    await program.count()
    await _read(program, "0", "0.03", "0.05", "0.02")
    await program.ask("k")
    await program.ask("t", "1")
    await _read(program, "0", "0.03")
    await program.leave()


async def _read_before(program: Program) -> None:
    """Start with readings from the job. Make one move, skip one, and read part of the turn again."""
    await program.start_run("Bore read before")
    await program.count(3)
    await program.ask("k", "1")
    await _read(program, "0.00")


async def checks_second_day(program: Program) -> None:
    """Move the work of the last run, and continue another run after its tolerance was made smaller."""
    assert isinstance(program.screen, YesNo)
    await program.press("1")
    await program.count()
    await _read(program, "0.01", "0.02")
    await program.leave()
    await program.resume("Bar in three jaws")
    assert isinstance(program.screen, OneOf)
    await program.press("2")
    await program.until(YesNo)
    await program.press("0")
    await program.leave()


async def slipped(program: Program) -> None:
    """Enter a reading that is far off, and a closing reading so far off that no move is planned from the turn."""
    await program.start_run("Check the arbor's spigot")
    await program.count()
    await _read(program, "0", "0.01", "0.02")
    await program.ask(*"3.5", "enter", "0")
    await _read(program, "0.02", "0.01", "0", "0")
    await program.ask(*"0.3", "enter", "0")


async def without_a_job(program: Program) -> None:
    """Enter a check on the board, for a lathe in inches, with its lever read in thou and in graduations."""
    await program.press("u", "f5")
    await program.until(YesNo)
    await program.press("1")
    await program.count()
    await program.press("slash")
    await _read(program, "0", "1.5")
    await program.press("slash")
    await _read(program, "4", "-2")
