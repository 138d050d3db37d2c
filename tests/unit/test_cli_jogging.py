"""The jogging screen: an alarm is shown as it is, and cleared only on a sentence typed in full."""

from __future__ import annotations

import asyncio
import io
import math
import os

import pytest

from gingerly import Jogger, Machine, Plate, Position, Stock, Tool, TopSpot
from gingerly.cli.jogging import Ending, JogScreen, shown
from gingerly.cli.operator import Lines
from gingerly.messages.faults import NoAnswer
from gingerly.messages.snapshot import Circuit, Snapshot
from gingerly_mock import MockAdapter

STANDING = [{"what": "alarm", "call": "look", "nth": 2, "detail": "limit\x1b[2J"}]


class Clearable(MockAdapter):
    """A virtual machine whose controller has a way to clear an alarm."""

    cleared = 0

    async def clear_alarm(self) -> None:
        self.cleared += 1


class Presses(io.StringIO):
    """Presses the next key, or types the next line, at each prompt."""

    def __init__(self, *keys: str) -> None:
        super().__init__()
        self.descriptor, self._pipe = os.pipe()
        self._keys = iter(keys)

    def write(self, text: str) -> int:
        if text.endswith("> "):
            os.write(self._pipe, next(self._keys, "q").encode())
        return super().write(text)


PIN = Tool.pin(4, free_length=20)
BLOCK = Stock(size_x=60, size_y=60, thickness=20, jaw_height=2)
PLATE = Plate(name="mine", size_a=52, size_b=55, height=12, recess_a=40, recess_b=41, recess_depth=6)
SPOT = TopSpot(tool=PIN, stock=BLOCK, place=Position(80, 80, -60), plate=PLATE)


def jogged(adapter: MockAdapter, *keys: str, staged: bool = False) -> tuple[Ending, str]:
    presses = Presses(*keys)

    async def main() -> Ending:
        async with Machine(adapter, name="attic mill") as machine:
            if staged:
                await machine.stage(SPOT)
            places = SPOT.places()
            return await JogScreen(Jogger(machine, tool=PIN), Lines(presses.descriptor), presses, places).run()

    return asyncio.run(main()), presses.getvalue()


def test_keeping_and_leaving_are_told_apart() -> None:
    assert jogged(MockAdapter(), "k")[0] is Ending.KEPT
    assert jogged(MockAdapter(), "q")[0] is Ending.LEFT


def test_a_key_that_means_nothing_moves_nothing_and_shows_the_keys() -> None:
    adapter = MockAdapter(position=[100, 100, -5])
    _, screen = jogged(adapter, "u", "\n", "\x1b[15~")
    assert screen.count("one step along X or Y") == 4
    assert adapter.motions == ()


@pytest.mark.parametrize("typed", ["yes", "lead and plate", "", "off"])
def test_anything_but_the_whole_sentence_leaves_an_alarm_as_it_is(typed: str) -> None:
    adapter = Clearable(faults=STANDING)
    _, screen = jogged(adapter, "a", f"{typed}\n")
    assert adapter.cleared == 0
    assert "Nothing was done." in screen


def test_the_whole_sentence_clears_an_alarm_where_the_controller_has_a_way_to() -> None:
    adapter = Clearable(faults=STANDING)
    jogged(adapter, "a", "Lead and plate are off\n")
    assert adapter.cleared == 1


def test_where_no_alarm_stands_nothing_is_asked() -> None:
    _, screen = jogged(Clearable(), "a")
    assert "No alarm stands." in screen
    assert "Type" not in screen


def test_a_long_step_down_from_the_top_is_as_short_as_one_below_it() -> None:
    """Unguarded, what counts is where it leads; nothing is refused that can be done shorter."""
    _, screen = jogged(MockAdapter(position=[160, 110, 0]), "+", "+", "z")
    assert "Z-0.500" in screen
    assert "StartOutsideWindow" not in screen


def test_where_the_controller_has_no_way_to_clear_an_alarm_that_is_said() -> None:
    assert "no way to clear an alarm from here" in jogged(MockAdapter(faults=STANDING), "a")[1]


# ---- homing -----------------------------------------------------------------------------------------------------

OFF = {"ideal": True, "position": [100, 100, -20]}


@pytest.mark.parametrize("typed", ["yes", "lead and plate", "", "off"])
def test_anything_but_the_whole_sentence_homes_nothing(typed: str) -> None:
    adapter = MockAdapter(**OFF)
    _, screen = jogged(adapter, "h", f"{typed}\n")
    assert adapter.motions == ()
    assert "Nothing was done." in screen


def test_what_jogging_shows_is_broken_between_words_for_80_columns() -> None:
    """The keys, the warning before homing, a fault's story, what the stop test has found."""
    for keys in (("?", "a", "off\n", "h", "off\n", "z"), ("t",)):
        screen = jogged(MockAdapter(**LOW, faults=[]), *keys, staged=True)[1]
        assert [line for line in screen.split("\n") if len(line) > 80] == []
    assert "NOTHING stops it at a contact." in jogged(MockAdapter(**OFF), "h", "off\n")[1]


def test_homing_that_fails_is_told_with_where_the_machine_stands_and_ends_the_trust_all_the_same() -> None:
    class Stuck(MockAdapter):
        async def home(self) -> Snapshot:
            await self.traverse(Position(100.0, 100.0, -18.96), None)
            raise NoAnswer("no switch was met")

    ended = []
    presses = Presses("h", "lead and plate are off\n", "q")

    async def homed() -> None:
        ended.append("trust")

    async def main() -> None:
        async with Machine(Stuck(**OFF), name="attic mill") as machine:
            screen = JogScreen(Jogger(machine, tool=PIN), Lines(presses.descriptor), presses)
            screen.homed = homed
            await screen.run()

    asyncio.run(main())
    assert ended == ["trust"]
    assert "machine: the machine stands still (confirmed)" in presses.getvalue()
    assert "stands at: X100.000 Y100.000 Z-18.960 (the controller says)" in presses.getvalue()


def test_the_whole_sentence_homes_the_machine_upwards_first() -> None:
    adapter = MockAdapter(**OFF)
    jogged(adapter, "h", "Lead and plate are off\n")
    up, aside = adapter.motions
    assert (up.end.z, up.end.x, up.end.y) == (0.0, 100.0, 100.0)
    assert aside.end == adapter.facts.envelope.high


def test_homing_that_a_controller_refuses_is_told_and_jogging_goes_on() -> None:
    adapter = MockAdapter(**OFF, faults=[{"what": "alarm", "call": "look", "nth": 1, "detail": "limit"}])
    ending, screen = jogged(adapter, "h", "lead and plate are off\n", "k")
    assert "AlarmActive" in screen
    assert ending is Ending.KEPT


class Homeless(MockAdapter):
    """A virtual machine that is homed at the machine only."""

    home = None  # type: ignore[assignment]


def test_where_the_adapter_has_no_way_to_home_that_is_said() -> None:
    assert "no way to home this machine from here" in jogged(Homeless(**OFF), "h")[1]


def test_homing_proves_nothing_and_forgets_what_was_proved() -> None:
    async def go() -> tuple[bool, bool]:
        adapter = MockAdapter(**OFF)
        async with Machine(adapter, name="attic mill", operator=adapter.operator) as machine:
            await machine.stage(SPOT)
            await machine.continuity(SPOT.places())
            before = machine.proof is not None
            await Jogger(machine, tool=PIN).home()
            return before, machine.proof is not None

    assert asyncio.run(go()) == (True, False)


def test_homing_that_is_cancelled_stops_the_machine() -> None:
    class Slow(MockAdapter):
        async def home(self) -> Snapshot:
            await asyncio.Event().wait()
            raise AssertionError

    async def go() -> list[str]:
        adapter = Slow(**OFF)
        async with Machine(adapter, name="attic mill") as machine:
            homing = asyncio.ensure_future(Jogger(machine, tool=PIN).home())
            await asyncio.wait({homing}, timeout=0)
            homing.cancel()
            await asyncio.wait({homing})
            return [call.call for call in adapter.log]

    assert "stop" in asyncio.run(go())


LOW = {"ideal": True, "position": [100, 100, -45]}


def test_the_stop_test_rises_until_it_is_touched_and_until_it_is_stopped_and_tells_both() -> None:
    adapter = MockAdapter(**LOW)
    _, screen = jogged(adapter, "t", staged=True)
    assert "a touch stops the motion: the tool ran on 0.0" in screen
    assert "the machine's own stop is noticed, by an alarm, after 2." in screen
    assert [motion.end.z > motion.start.z for motion in adapter.motions] == [True, True]


def test_a_touch_that_does_not_come_ends_the_stop_test_at_its_height() -> None:
    adapter = MockAdapter(**LOW, operator={"touches_after_s": math.inf})
    _, screen = jogged(adapter, "t", staged=True)
    assert "NotStopped" in screen
    assert adapter.true_position.z == pytest.approx(-25.0, abs=0.005)


def test_position_circuit_and_alarm_are_shown_as_they_are_and_play_no_tricks() -> None:
    at = Position(1.0, 2.0, 3.0)
    assert shown(Snapshot(at, True)) == "  X1.000 Y2.000 Z3.000  circuit open, alarm none"
    blind = shown(Snapshot(at, False, circuit=None, alarm=None))
    assert blind.endswith("circuit unknown, alarm unknown, MOVING")
    loud = shown(Snapshot(at, True, circuit=Circuit.CLOSED, alarm=True, alarm_detail="x\x1b[2J"))
    assert loud.endswith("circuit CLOSED, alarm ALARM x\\x1b[2J")
