"""The steps that planning again gives for each unfinished run, as numbers: `python -m tests.old_logs.replanned v0_1`.

Facts of a run never change; the steps planned next may become better. `replanned.json` holds the present steps for each
cause, so that a renamed key that loses a number is noticed. Write the file again only after planning was changed on
purpose, and look at the differences.
"""

import json
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from core.logbook.active_run import ActiveRun
from core.plan import AnySetting, Step
from core.values.dials import Setting
from tests.old_logs.answering import Answering
from tests.old_logs.facts import as_called_now
from tests.old_logs.program import Time
from tests.old_logs.recordings import RECORDINGS, Recording, continued

FILE_NAME = "replanned.json"
Planned = dict[str, dict[str, dict[str, str]]]


def replanned(recording: Recording, data: Path) -> Planned:
    """Return actions and settings of the new steps by run, and by number and cause. Works in a copy in `data`."""
    found: Planned = {}
    with continued(recording.copy_to(data)) as logbook:
        for info in reversed(logbook.unfinished(limit=1_000)):
            answering = Answering(ActiveRun.resume(logbook, info.uid, Time(365).clock(), "f" * 32))
            found[info.uid] = {}
            for number, (cause, data) in enumerate(list(answering.inputs_possible_now())):
                answering.revise(cause, data)
                found[info.uid][f"{number} {cause}"] = in_numbers(answering.state.open_steps())
                answering.run.undo()
            answering.run.close()
    return found


def in_numbers(steps: Iterable[Step]) -> dict[str, str]:
    """Return actions and settings of steps as short texts."""
    steps = list(steps)
    return {
        "actions": " ".join(step.action for step in steps),
        "settings": " ".join("/".join(_number(setting) for setting in step.settings) or "-" for step in steps),
        "depths": " ".join("-" if step.depth_mm is None else f"{step.depth_mm:.4f}" for step in steps),
    }


def recorded(recording: Recording) -> Planned:
    """Return the saved file's contents, with every name in the spelling of the newest program."""
    found: Planned = json.loads((recording.folder / FILE_NAME).read_text(encoding="utf-8"))
    return {uid: {_now(key): _renamed(steps) for key, steps in run.items()} for uid, run in found.items()}


def _number(setting: AnySetting) -> str:
    if isinstance(setting, Setting):
        return f"{float(setting.position):.4f}".rstrip("0").rstrip(".")
    return f"{setting.turns}+{setting.holes}:{setting.circle}"


def _renamed(steps: dict[str, str]) -> dict[str, str]:
    return {**steps, "actions": " ".join(as_called_now(steps["actions"].split(), "action"))}


def _now(key: str) -> str:
    number, _, cause = key.partition(" ")
    return " ".join((number, as_called_now(cause, "cause")))


def write(recording: Recording) -> None:
    """Write the steps that planning again gives today for each cause."""
    with TemporaryDirectory() as data:
        text = json.dumps(replanned(recording, Path(data)), indent=1)
    (recording.folder / FILE_NAME).write_text(f"{text}\n", encoding="utf-8")


def main(words: Sequence[str]) -> int:
    """Write the file for the recordings of each named version. Return the exit status."""
    chosen = [recording for recording in RECORDINGS if recording.folder.parent.name in words]
    for recording in chosen:
        write(recording)
    print(f"{len(chosen)} logbooks: {', '.join(map(str, chosen)) or 'enter a version such as v0_1'}")
    return 0 if chosen else 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
