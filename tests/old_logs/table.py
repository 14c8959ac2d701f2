"""Records work on the rotary table, and holes on a circle: the keys of each start of the program."""

from tests.old_logs.program import Program
from tui.widgets.question import OneOf, YesNo


async def plate(program: Program) -> None:
    """Set the table by its dial: first for marks, then for circles cut by an inch head."""
    await _hour_marks(program)
    await _marks_at_the_rim(program)
    await _rosette(program)
    await _border(program)


async def _hour_marks(program: Program) -> None:
    """Set table and depth differently, skip a position, repeat one, measure the depth, and close the run."""
    await program.start_run("Hour marks")
    await program.count_to("index", position=2)
    await program.ask_for("2", text="3-27")
    await program.count()
    await program.ask_for("2", text="0.4")
    await program.count()
    await program.count_to("index", position=4)
    await program.ask("7", "1")
    await program.count_to("index", position=6)
    await program.ask("6", "3")
    await program.count()
    await program.count_to("measure")
    await program.ask("space", "1", *"0.22", "enter")
    await program.count(3)
    await program.ask("minus")
    await program.ask_for("4", text="Position 4 is for the gnomon")
    await program.leave()


async def _marks_at_the_rim(program: Program) -> None:
    """Count downwards and cut each mark to its full depth.

    Close the run after a move, before the zeros are found again.
    """
    await program.start_run("Marks at the rim")
    await program.count_to("measure")
    await program.ask("space", "1", *"0.35", "enter")
    await program.count_to("cut", position=2)
    await program.ask("5", "1")
    await program.count()
    await program.leave()


async def _rosette(program: Program) -> None:
    """Finish a run without measuring anything."""
    await program.start_run("Rosette")
    while program.state.cursor is not None:
        await (program.ask("space", "2") if program.step.action == "measure" else program.count())
    await program.press("space")


async def _border(program: Program) -> None:
    """Move the head by a trial circle, try again, measure the depth, and close the run in layer 2."""
    await program.start_run("Border")
    await program.count_to("measure")
    await program.ask("space", "1", *"17.6", "enter")
    await program.count_to("measure")
    await program.ask("space", "1", *"18.01", "enter")
    await program.count_to("measure")
    await program.ask("space", "1", *"0.12", "enter")
    await program.count_to("cut", layer=1, position=3)
    await program.ask("7", "1")
    await program.count_to("index", layer=2, position=2)
    await program.count()


async def border_moved(program: Program) -> None:
    """Set zeros and layer again after a move overnight. Close the run at the layer's next position."""
    assert isinstance(program.screen, YesNo)
    await program.press("1")
    await program.count(2)
    await program.ask("space", "2")
    await program.count_to("index")
    await program.leave()


async def rim(program: Program) -> None:
    """Set the table by the dividing plate and by notches.

    Circles are cut with a head without a dial. Holes follow.
    """
    await _by_plate(program)
    await _by_notches(program)
    await _circles_by_trial(program)
    await _holes(program)


async def _by_plate(program: Program) -> None:
    """Measure the depth; set hole and depth differently. With two hole circles, skip a position."""
    await program.start_run("Teeth by the plate")
    await program.count_to("measure")
    await program.ask("space", "1", *"0.75", "enter")
    await program.count_to("index", position=3)
    await program.ask_for("2", text="11+10")
    await program.count()
    await program.ask_for("2", text="0.38")
    await program.count()
    await program.leave()

    await program.start_run("Teeth by two circles")
    await program.count(4)
    await program.ask("7", "1")
    await program.leave()


async def _by_notches(program: Program) -> None:
    """Finish one run. In another run, set a notch differently."""
    await program.start_run("Notches")
    while program.state.cursor is not None:
        await program.count()
    await program.press("space")
    await program.start_run("Notches", another=True)
    await program.count(3)
    await program.ask_for("2", text="9")
    await program.count()
    await program.leave()


async def _circles_by_trial(program: Program) -> None:
    """Move the head by two trial circles. Close the run at the trial circle of the second layer."""
    await program.start_run("Circles by trial")
    await program.count_to("measure")
    await program.ask("space", "1", *"11.2", "enter")
    await program.count_to("measure")
    await program.ask("space", "1", *"12", "enter")
    await program.count_to("measure")
    await program.ask("space", "2")
    while program.step.expects != "circle":
        await program.count()
    await program.leave()


async def _holes(program: Program) -> None:
    """Skip a hole, and undo the skip."""
    await program.start_run("Holes of the rim")
    await program.count(3)
    await program.ask("7", "1")
    await program.ask("minus")
    await program.count()
    await program.leave()


async def rim_changed(program: Program) -> None:
    """Plan the remaining steps again for more notches, deeper circles and another start of the holes."""
    for name in ("Holes of the rim", "Notches", "Circles by trial"):
        if name != "Holes of the rim":
            await program.resume(name)
        assert isinstance(program.screen, OneOf)
        await program.press("2")
        await program.until(YesNo)
        await program.press("0")
        await program.leave()


async def base_holes(program: Program) -> None:
    """Move the work after the first hole of a circle, then drill all holes."""
    await program.start_run("Holes of the base")
    await program.count(3)
    await program.ask("5", "1")
    while program.state.cursor is not None:
        await program.count()
    await program.press("space")
