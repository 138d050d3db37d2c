"""The virtual controller remembers, where it is told to, what a real one does when a process ends."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

import pytest

from gingerly import Axis, ControllerRefused, Position
from gingerly_mock import MockAdapter

THERE = Position(100, 50, -10)


def used(path: Path) -> None:
    """Switch a machine on, move it, set a work offset, and let its process end without a word."""

    async def go() -> None:
        machine = MockAdapter(memory=str(path), ideal=True)
        await machine.open()
        await machine.traverse(THERE, None)
        await machine.write_offset(3, {Axis.X: 12.5, Axis.Z: -7.25})

    asyncio.run(go())


def found(path: Path) -> tuple[Position, Position]:
    """Where the next process finds the machine, and its third work offset."""

    async def go() -> tuple[Position, Position]:
        machine = MockAdapter(memory=str(path), ideal=True)
        await machine.open()
        return (await machine.look()).position, await machine.read_offset(3)

    return asyncio.run(go())


def test_the_next_process_finds_position_and_offsets_as_they_were_left(tmp_path: Path) -> None:
    used(tmp_path / "mill.json")
    assert found(tmp_path / "mill.json") == (THERE, Position(12.5, 0.0, -7.25))


def test_without_a_memory_the_next_process_finds_a_new_machine(tmp_path: Path) -> None:
    used(tmp_path / "mill.json")
    assert found(tmp_path / "other.json")[1] == Position(0.0, 0.0, 0.0)


def test_the_first_tool_stays_the_one_that_others_are_measured_against(tmp_path: Path) -> None:
    """Otherwise each process would find another tool of the length that the job was told for."""
    path = tmp_path / "mill.json"
    used(path)
    path.write_text(json.dumps({**json.loads(path.read_text("utf-8")), "first_tool": "pin"}), "utf-8")
    assert MockAdapter(memory=str(path))._machine.world.first_tool == "pin"


@pytest.mark.parametrize(
    "text", ["", "{}", "[]", '{"format": 2}', '{"format": 1, "position": [0, 0]}', "\x00", '{"format": 1'], ids=repr
)
def test_a_file_that_is_no_memory_is_refused_by_name_and_left_alone(tmp_path: Path, text: str) -> None:
    path = tmp_path / "mill.json"
    path.write_text(text, "utf-8")
    with pytest.raises(ValueError, match=r"mill\.json.* is no memory of a virtual machine"):
        MockAdapter(memory=str(path))
    assert path.read_text("utf-8") == text


@pytest.mark.parametrize("value", ["", 3, True])
def test_a_memory_is_the_name_of_a_file(value: object) -> None:
    with pytest.raises(ValueError, match="memory must be the name of a file"):
        MockAdapter(memory=value)


def test_a_memory_in_no_folder_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"mill\.json' cannot be kept: its folder does not exist"):
        MockAdapter(memory=str(tmp_path / "missing" / "mill.json"))


def test_a_memory_that_cannot_be_written_is_refused_before_anything_moves(tmp_path: Path) -> None:
    machine = MockAdapter(memory=str(tmp_path / "mill.json"))
    (tmp_path / ".mill.json.new").mkdir()
    with pytest.raises(ControllerRefused, match=r"its memory .* cannot be kept"):
        asyncio.run(machine.open())


def test_the_file_is_replaced_whole(tmp_path: Path) -> None:
    """A process that is killed while it writes leaves the old memory; the stray file beside it counts for nothing."""
    used(tmp_path / "mill.json")
    (tmp_path / ".mill.json.new").write_text('{"format"', "utf-8")
    assert found(tmp_path / "mill.json")[0] == THERE
