"""Records turning, facing and work done by hand: the keys of each start of the program."""

from tests.old_logs.program import Program
from tui.widgets.question import OneOf, YesNo


async def foot_first_day(program: Program) -> None:
    """Finish one run with every question answered.

    Close others unfinished, the last one with its counter open.
    """
    await _turned(program)
    await _left_in_the_middle(program)
    await program.start_run("Break the edges")
    await program.ask("5", "1")
    await program.count()
    await program.press("space")

    await program.start_run("Turn the collar")
    await program.count(3)
    await program.leave()

    await program.start_run("Stamp the foot")
    await program.ask_for("4", text="The stamp lies in the drawer")


async def _turned(program: Program) -> None:
    """Enter a touch-off reading, undo, a note, one measurement, skip one, do a spring pass, and finish."""
    await program.start_run("Turn the foot")
    await program.ask_for("2", text="0.35")
    await program.count()
    await program.ask("minus")
    await program.count(2)
    await program.ask_for("4", text="[b]Oil[/b], 240 rpm; Ø 21.7?")
    await program.ask_for("space", "1", text="21.65")
    await program.count_to("measure")
    await program.ask("space", "2")
    await program.count_to("check")
    await program.ask("3", "1")
    await program.count(2)
    await program.press("space")


async def _left_in_the_middle(program: Program) -> None:
    """Set a step differently, move something, repeat a step, skip one, and add a spring pass."""
    await program.start_run("Bore the foot")
    await program.count()
    await program.ask_for("2", text="2.3")
    await program.count()
    await program.ask_for("5", "1", text="12.71")
    await program.count(2)
    await program.ask("6", "1")
    await program.leave()

    await program.start_run("Face the foot")
    await program.count(3)
    await program.ask("3", "1")
    await program.count()
    await program.leave()

    await program.start_run("Groove the foot")
    await program.count(2)
    await program.ask("7", "1")
    await program.ask("6", "1")
    await program.ask("7", "1")
    await program.ask_for("2", text="1.2")
    await program.leave()


async def foot_second_day(program: Program) -> None:
    """Plan remaining steps again after the job was changed. Continue the bore, and start another foot."""
    assert isinstance(program.screen, OneOf)
    await program.press("2")
    await program.leave()
    for name in ("Turn the collar", "Face the foot"):
        await program.resume(name)
        assert isinstance(program.screen, OneOf)
        await program.press("2")
        await program.until(YesNo)
        await program.press("0")
        await program.count()
        if name == "Face the foot":
            await program.ask("space", "1", *"1.02", "enter")
        await program.leave()

    await program.resume("Bore the foot")
    await program.press("0")
    await program.count()
    await program.leave()

    await program.start_run("Turn the foot", another=True)
    await program.count(2)


async def foot_third_day(program: Program) -> None:
    """Abandon the unfinished piece after the foot was made smaller, and start another piece."""
    assert isinstance(program.screen, OneOf)
    await program.press("3", "1")
    await program.count(3)


async def screw_in_inches(program: Program) -> None:
    """Stop after a move, before touching off at the measured size. Do a check without finishing the run."""
    await program.start_run("Turn the blank")
    await program.count(2)
    await program.ask_for("5", "1", text="0.951")
    await program.leave()
    await program.start_run("Chamfer")
    await program.count()


async def rim(program: Program) -> None:
    """Use a dial that shows the diameter itself, and a readout that is set differently."""
    await program.start_run("Turn the rim")
    await program.ask_for("2", text="60")
    await program.count_to("measure")
    await program.ask_for("1", text="58.95")
    await program.leave()

    await program.start_run("Face the rim")
    await program.count()
    await program.ask_for("2", text="-0.33")
    await program.count()
    await program.ask_for("5", "1", text="2.65")


async def flange(program: Program) -> None:
    """Finish a face. The first measurement equals the dial's prediction, and the second is slightly off."""
    await program.start_run("Face the flange")
    await program.count_to("measure")
    await program.ask("space", "1", *"1.6", "enter")
    await program.count_to("measure")
    await program.ask("space", "1", *"1.72", "enter")
    await program.count(2)
    await program.press("space")


async def spigot(program: Program) -> None:
    """Cut with a cross-slide whose numbers fall as the tool goes in. Measure nothing."""
    await program.start_run("Turn the spigot")
    while program.state.cursor is not None:
        await (program.ask("space", "2") if program.step.action == "measure" else program.count())
    await program.press("space")


async def without_a_job(program: Program) -> None:
    """Enter a diameter on the board, on the example lathe. The measurement is far from the prediction."""
    await program.press("d", "enter", *"30", "enter", *"28", "enter", "enter", *"0.5", "f5")
    await program.until(YesNo)
    await program.press("1")
    await program.count_to("measure")
    await program.ask_for("space", "1", text="29.1")
    await program.count()
