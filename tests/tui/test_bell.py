"""The bell is off at first, rings a distinct pattern for each event, and never rings twice within 100 ms."""

import asyncio
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from unittest import mock

import pytest

from tests.conftest import MakeApp
from tests.tui.counter.test_instrument import at_a_pass
from tests.tui.counters import Opening, logged, press
from tui.bell import Bell, Sound

ARBOR = Path(__file__).parents[2] / "sample_jobs" / "sundial_arbor.toml"
LEAST_S = 0.1


async def strokes(*said: tuple[float, Sound]) -> list[float]:
    """Return the times at which the bell rang, for sounds requested at these times [s]."""
    loop = asyncio.get_running_loop()
    start_s, rung = loop.time(), list[float]()
    bell = Bell(lambda: rung.append(loop.time() - start_s), lambda: True)
    for time_s, sound in said:
        await asyncio.sleep(max(start_s + time_s - loop.time(), 0))
        bell.say(sound)
    await asyncio.sleep(1.2)
    return rung


async def test_each_sound_of_the_bell_has_its_own_number_of_rings() -> None:
    """The pauses between the rings are long enough to count the rings."""
    for sound, rung in zip(Sound, await asyncio.gather(*(strokes((0.0, sound)) for sound in Sound)), strict=True):
        assert len(rung) == int(sound)
        assert all(after - before >= LEAST_S for before, after in pairwise(rung))


async def test_sounds_requested_in_quick_succession_ring_no_faster_than_a_single_sound() -> None:
    """A held key is refused thirty times a second, and each refusal requests the same sound."""
    sounds = [Sound.LOGGED, Sound.NOT_LOGGED, Sound.MEASURE]
    rung = await strokes(*((number / 30, sounds[number % 3]) for number in range(30)))
    assert rung and all(after - before >= LEAST_S for before, after in pairwise(rung))


async def test_two_sounds_of_the_bell_are_separated_by_a_pause() -> None:
    """A pattern of one ring and a pattern of three rings must not be heard as four rings."""
    rung = await strokes((0.0, Sound.LOGGED), (0.05, Sound.NOT_LOGGED))
    assert len(rung) == 4 and rung[1] - rung[0] > 2 * (rung[2] - rung[1])


@pytest.mark.parametrize("is_on", [False, True])
async def test_the_counter_rings_only_if_the_bell_is_switched_on(make: MakeApp, is_on: bool) -> None:
    """A pass is logged, and a second pass is refused because it came too soon."""
    app = make(job=ARBOR, opening=Opening, quiet_s=0.8)
    app.context.controls = replace(app.context.controls, bell=is_on)
    async with app.run_test(size=(80, 24)) as pilot:
        with mock.patch.object(app.context.bell, "_ring") as ring:
            screen = await at_a_pass(pilot)
            await asyncio.sleep(0.9)
            done = screen.state.steps_done
            await press(pilot, "space")
            assert logged(app).steps_done == done + 1
            await asyncio.sleep(0.1)
            assert ring.call_count == int(is_on)
            await press(pilot, "space")
            await asyncio.sleep(1.2)
            assert logged(app).steps_done == done + 1
            assert ring.call_count == (1 + Sound.NOT_LOGGED if is_on else 0)
