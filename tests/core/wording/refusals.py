"""Why texts and tables are refused: what is wrong, and what to enter instead."""

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from core.jobs.job import parse_job
from core.lathe.reader import read_lathe
from core.lathe.set_up.measuring import MEASURING_METHODS
from core.operations.patterns.form_values import open_field_answer
from core.operations.registry import PlanInput
from core.operations.threads.designation import read_thread
from core.operations.threads.gearing import best_trains
from core.operations.threads.thread_dial import thread_dial_uses
from core.values.files import parse_toml, read_text
from tests.core.jobs import test_job
from tests.core.operations import test_facing
from tests.core.operations.dividing import test_divide_operation
from tests.core.operations.dividing.rotary import divide_problems, lathe_with, layers_problems, pattern_keys
from tests.core.operations.patterns import test_pattern_operation
from tests.core.operations.runout import test_runout_plan
from tests.core.operations.threads import test_designation, test_hands
from tests.core.planned import make_plan
from tests.core.wording.said import Said, keys_text, refusal, said
from tests.golden.keeping import JOBS

REFUSED_HOLES = JOBS / "refused_drilling.toml"
INCH_THREADS: list[dict[str, Any]] = [
    {"thread": "7/8-9 UNC", "blank": "0.1 in"},
    {"thread": "7/8-9 UNC", "tool_flat": "0.1 in"},
    {"thread": "7/8-9 UNC", "lightest_pass": "0.1 in"},
    {"form": "60 deg", "major": "1 in", "pitch": "0.9 in"},
]


def page() -> Iterator[Said]:
    """Return what is refused, and the sentences."""
    for text, _ in test_designation.REFUSED:
        yield said(f"thread {text!r}", *refusal(read_thread, text))
    yield from _jobs()
    for its, threads in ((test_hands.METRIC, _metric_threads()), (test_hands.INCH, INCH_THREADS)):
        for keys in threads:
            yield said(f"thread, {keys_text(keys)}", *_of_operation(its, kind="thread", **keys))
    for keys, _ in test_facing.REFUSED:
        yield said(keys_text(keys), *_of_operation(test_facing.METRIC, **keys))
    for keys, _ in test_divide_operation.REFUSED:
        yield said(f"index, {keys_text(keys)}", *_problems(divide_problems, lathe_with(), **keys))
    for layer, keys, _ in test_pattern_operation.REFUSED:
        whole = {**test_pattern_operation.WIDE, **layer}
        yield said(f"layers, {keys_text({**layer, **keys})}", *_problems(layers_problems, lathe_with(), whole, **keys))
    for keys, _ in test_runout_plan.REFUSED:
        yield said(f"runout, {keys_text(keys)}", *_of_operation(test_runout_plan.LATHE, kind="runout", **keys))
    refused = parse_toml(read_text(REFUSED_HOLES), REFUSED_HOLES)
    drill_lathe = read_lathe(REFUSED_HOLES.parent / refused["lathe"])
    for keys in refused["operation"]:
        yield said(f"drill, {keys['name']}", *_of_operation(drill_lathe, **keys))
    yield from _sizes()
    yield from _measurements()


def _jobs() -> Iterator[Said]:
    for text, _ in test_job.REFUSED:
        whole = f'format = 1\ntitle = "J"\n{text}'
        yield said(text.replace("\n", " ").replace(test_job.THREAD.replace("\n", " "), "thread "), *_job(whole))


def _job(text: str) -> tuple[str, ...]:
    return refusal(parse_job, text, Path("job.toml"))


def _metric_threads() -> Iterator[dict[str, Any]]:
    for key, value in test_hands.REFUSED:
        yield {"thread": "M30x3.5-6g", "tool_flat": "0.3 mm", key: value}


def _of_operation(lathe: Any, **keys: Any) -> tuple[str, ...]:
    table = {"name": "it", **{key.rstrip("_"): value for key, value in keys.items()}}
    return refusal(make_plan, PlanInput(kind=table["kind"], parameters=table, lathe=lathe))


def _problems(read: Callable[..., tuple[object, list[Any]]], *args: Any, **keys: Any) -> tuple[str, ...]:
    return tuple(str(problem) for problem in read(*args, **keys)[1])


def _sizes() -> Iterator[Said]:
    """Yield sizes that only the calculations refuse."""
    yield said("no lead", *refusal(thread_dial_uses, 0, 3, ()))
    yield said("a wheel of 0 teeth for the dial", *refusal(thread_dial_uses, 1, 3, ((16, 0),)))
    yield said("change gears of 0 teeth", *refusal(best_trains, 1, 3, (20, 0), 1, 1))
    layer: Mapping[str, Any]
    for meeting, layer, operation in (
        ("points", {"offset": "9 mm", "circle_radius": "9.5 mm"}, {}),
        ("points", {"offset": "90 mm", "circle_radius": "0.1 mm"}, {}),
        ("grooves", {"count": 36, "offset": "20 mm"}, {}),
        ("grooves", {"count": 36, "offset": "20 mm", "depth": "2 mm"}, pattern_keys(tip_angle="90 deg")),
        ("centre", {"count": 3, "circle_radius": "2 mm"}, {"height_error": "2.5 mm"}),
    ):
        yield said(
            f"{meeting}, {keys_text({**layer, **operation})}", *refusal(open_field_answer, meeting, layer, operation)
        )


def _measurements() -> Iterator[Said]:
    """Yield measurements at the lathe from which nothing follows."""
    turn = {"per_turn": "4 mm"}
    for finding, table, typed in (
        (MEASURING_METHODS["by_cut"], {}, {"before": "30 mm", "turned": "0.5 mm", "after": "29.3 mm"}),
        (MEASURING_METHODS["by_cut"], {}, {"before": "30 mm", "turned": "0 mm", "after": "29 mm"}),
        (MEASURING_METHODS["by_slide"], {}, {"moved": "0.50 in", "turned": "0.5 mm"}),
        (MEASURING_METHODS["by_slide"], {}, {"moved": "3 mm", "turned": "0.5 mm"}),
        (MEASURING_METHODS["lead"], {"per_turn": "40 thou", "reads": "travel"}, {"turns": "10", "moved": "10 mm"}),
        (MEASURING_METHODS["lead"], turn | {"reads": "travel"}, {"turns": "10", "moved": "20.00 mm"}),
        (MEASURING_METHODS["lead"], turn | {"reads": "diameter"}, {"turns": "10", "moved": "40.00 mm"}),
        (MEASURING_METHODS["table_backlash"], {}, {"inwards": "1 arcmin", "outwards": "2 arcmin"}),
        (MEASURING_METHODS["marks"], {}, {"marks": "80"}),
        (MEASURING_METHODS["backlash"], {}, {"inwards": "1 mm", "outwards": "0 mm"}),
    ):
        yield said(f"measured {keys_text({**table, **typed})}", *refusal(finding.work_out, table, typed))
