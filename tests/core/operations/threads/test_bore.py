"""Internal threads: boring to size, the bar that enters and withdraws, and the blind end."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.operations.threads.tool import bore_room, withdrawal_words
from core.values.dials import Setting
from tests.core.figures import figures
from tests.core.thread_jobs import at_first_cut, job_of, lathe, plan_of

M20 = {"thread": "M20x1.5-6H", "blank": "18.5 mm"}


def wall_gaps_mm(bore_mm: float, depth_mm: float, point_mm: float, bar_mm: float, drawn_back_mm: float) -> list[float]:
    """Return how far bar and point stay from the walls [mm], by points sampled on circles, without the groove.

    The point is level with the work's axis, and the bar is a circle behind the point. The slide has moved the point
    inwards from `depth_mm` by `drawn_back_mm`.
    """
    tip = bore_mm / 2 + depth_mm - drawn_back_mm
    centre = tip - point_mm - bar_mm / 2
    round_bar = [
        math.hypot(centre + bar_mm / 2 * math.cos(a), bar_mm / 2 * math.sin(a))
        for a in (2 * math.pi * step / 720 for step in range(720))
    ]
    return [bore_mm / 2 - max(round_bar), bore_mm / 2 - tip]


@settings(max_examples=60)
@given(
    thread=st.sampled_from(["M8", "M10", "M20x1.5-6H", "M30", "M48", "1/2-13 UNC-2B", "Tr40x7-7H"]),
    flat_pitches=st.floats(0, 0.2),
    straight=st.booleans(),
)
def test_the_stated_largest_boring_bar_just_clears_the_walls_of_the_bore(
    thread: str, flat_pitches: float, straight: bool
) -> None:
    """Withdrawn at any depth, the bar clears every wall by the gap; a bar 0.1 mm thicker does not.

    With flank infeed the cross-slide returns to one reading at every depth, so the first pass is nearest to the
    opposite wall. With straight infeed the tool returns to the same position in the bore at every depth.
    """
    pitch_mm = job_of(thread=thread, side="inside").thread.pitch_mm
    flat = {"tool_flat": f"{flat_pitches * pitch_mm:.3f} mm"}
    infeed = {"infeed": "straight"} if straight else {}
    job = job_of(thread=thread, side="inside", **flat, **infeed)
    room, depth_mm = bore_room(job), job.groove.depth_mm
    cutting = wall_gaps_mm(job.blank_mm, depth_mm, room.stick_out_mm, room.bar_mm, 0)
    assert cutting[0] >= room.gap_mm - 1e-9
    depths_mm = [depth_mm * part / 8 for part in range(9)]

    def drawn(bar_mm: float) -> float:
        return min(
            gap_mm
            for now_mm in depths_mm
            for gap_mm in wall_gaps_mm(
                job.blank_mm,
                now_mm,
                room.stick_out_mm,
                bar_mm,
                room.withdraw_mm - (depth_mm - now_mm) * straight,
            )
        )

    assert drawn(room.bar_mm) >= room.gap_mm - 1e-9
    assert drawn(room.bar_mm + 0.1) < room.gap_mm - 1e-6


@pytest.mark.parametrize("infeed", ["flank", "straight"])
def test_the_withdrawal_reading_moves_the_tool_clear_of_the_thread_crest(infeed: str) -> None:
    """M20x1.5 is 0.960 mm deep.

    A cross-slide at 0 in the cut moves in by 1.46 mm; a cross-slide that feeds, by 0.5 mm past 0.
    """
    its = lathe()
    dial = its.dial("cross_slide")
    words = withdrawal_words(job_of(**M20, infeed=infeed), dial)
    wanted_mm = 0.5 if infeed == "straight" else 0.31 + 0.649519 + 0.5
    marks = math.ceil(wanted_mm / dial.mark_mm)
    assert words == f"inwards to {dial.setting_text(dial.at_marks(marks))}, past its 0"
    assert any(dial.setting_text(dial.at_marks(marks)) in hand for hand in at_first_cut(its, **M20, infeed=infeed))


def test_the_bore_and_the_boring_tool_are_measured_before_the_touch_off() -> None:
    """The order is bore, bar, blind end, then touch-off outwards.

    The limits of the bore are 18.376 mm and 18.676 mm (ISO 965-2, M20x1.5-6H).
    """
    plan = plan_of(**M20)
    texts = [step.text for step in plan.steps]
    heads = ("Bore:", "Boring tool:", "Open")
    order = [next(n for n, text in enumerate(texts) if text.startswith(head)) for head in heads]
    touched = next(n for n, step in enumerate(plan.steps) if step.zeroed_dials)
    assert order == sorted(order) and order[-1] < touched
    assert {"18.376", "18.676"} <= figures(texts[order[0]])
    for step in (step for step in plan.steps if step.action == "cut"):
        setting = step.settings[0]
        assert isinstance(setting, Setting) and setting.position < 0


def test_the_thread_depth_is_counted_from_the_measured_bore() -> None:
    """A bore 0.2 mm larger is cut 0.1 mm less deep on the radius, to the same root."""
    small, large = (plan_of(**{**M20, "blank": bore}).figures for bore in ("18.4 mm", "18.6 mm"))
    assert small["depth_mm"] - large["depth_mm"] == pytest.approx(0.1)
    assert small["root_mm"] == pytest.approx(large["root_mm"])


def test_only_a_bore_of_assumed_size_gets_a_caution_about_its_size() -> None:
    """The caution states the assumed size of the bore."""
    assumed, measured = plan_of(thread="M20x1.5-6H"), plan_of(**M20)
    bore = f"{assumed.figures['blank_mm']:g}"
    assert any(bore in figures(caution) for caution in assumed.cautions)
    assert not any("18.5" in figures(caution) for caution in measured.cautions)


@pytest.mark.parametrize(
    ("table", "more"),
    [
        ({**M20, "length": "25 mm"}, 1),
        ({**M20, "runs": "from the chuck"}, 3),
        ({**M20, "length": "90 mm"}, 2),
        ({"thread": "M2-6H", "blank": "1.6 mm"}, 3),
    ],
)
def test_blind_long_and_small_bores_get_extra_cautions(table: dict[str, str], more: int) -> None:
    """The cases are blind ends, long thin bars, and bores too small for a tool (common practice, no source)."""
    assert len(set(plan_of(**table).cautions) - set(plan_of(**M20).cautions)) == more


def test_the_plan_of_an_external_thread_does_not_mention_a_boring_bar() -> None:
    """It has neither a figure nor a caution about a bar."""
    plan = plan_of(thread="M20x1.5-6g", length="25 mm")
    assert not any(word in text for text in plan.cautions for word in ("bore", "bar "))
    assert not any("Boring" in step.text for step in plan.steps)
