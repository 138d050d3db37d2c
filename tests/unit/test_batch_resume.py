"""What is left of a job follows from the journal's account and from what the controller says, and nothing else."""

from __future__ import annotations

from gingerly import Position
from gingerly.batch.resume import Remainder, remainder, too_late
from gingerly.batch.standing import PartStanding, Standing, Write, digest
from gingerly.geometry import Axis
from support.jobs import sound

JOB = sound()
ZERO, SET, SHIFTED = Position(0.0, 0.0, 0.0), Position(40.0, 40.0, -45.0), Position(40.0, 40.0, -46.0)
OTHER = Position(1.0, 2.0, 3.0)
LIFE = 7


def part(name: str, *, ended: bool = False, well: bool = True, life: int = LIFE, **writes: Write) -> PartStanding:
    given = next(one for one in JOB.parts if one.name == name)
    return PartStanding(
        digest=digest(given),
        life=life,
        ended=ended,
        ended_well=ended and well,
        writes={int(key[1:]): write for key, write in writes.items()},
        found=((Axis.Z, -45.0),),
        number=20,
    )


def left(
    parts: dict[str, PartStanding], *, one: Position = ZERO, two: Position = ZERO, verified: int = 0
) -> Remainder:
    """What is left when work offsets 1 and 2 read so, and only the parts' own values of them are on record."""
    standing = Standing(series=1, began="", parts=parts)
    for name, each in parts.items():
        for number, write in each.writes.items():
            values = (write.read,) if write.read is not None else (write.old, write.new)
            standing.expected[number] = tuple(value for value in values if value is not None)
            standing.by[number] = name
    return remainder(JOB, standing, {1: one, 2: two}, life=LIFE, verified=verified)


def test_a_write_that_was_cut_off_counts_where_the_new_value_stands() -> None:
    found = left({"lid 1": part("lid 1", o1=Write(ZERO, SET))}, one=SET)
    assert set(found.kept) == {"lid 1"}
    assert [(name, number, stands) for name, number, _, stands in found.settled] == [("lid 1", 1, "new")]


def test_a_write_that_was_cut_off_is_done_again_where_the_old_value_stands() -> None:
    found = left({"lid 1": part("lid 1", o1=Write(ZERO, SET))}, one=ZERO)
    assert found.kept == {}
    assert [stands for *_, stands in found.settled] == ["old"]
    assert found.conflicts == []


def test_a_write_that_was_cut_off_is_a_conflict_where_neither_stands() -> None:
    found = left({"lid 1": part("lid 1", o1=Write(ZERO, SET))}, one=OTHER)
    assert found.kept == {}
    assert [(conflict.number, conflict.read) for conflict in found.conflicts] == [(1, OTHER)]


def test_a_set_of_offsets_of_which_one_was_written_is_put_back() -> None:
    """All or none: the shift of the first would be added twice otherwise."""
    found = left({"cutter in": part("cutter in", o1=Write(SET, SHIFTED))}, one=SHIFTED)
    assert found.kept == {}
    assert [(name, number) for name, number, _ in found.put_back] == [("cutter in", 1)]


def test_a_set_of_offsets_that_was_written_whole_is_kept() -> None:
    writes = {"o1": Write(SET, SHIFTED), "o2": Write(SET, SHIFTED)}
    found = left({"cutter in": part("cutter in", **writes)}, one=SHIFTED, two=SHIFTED)
    assert set(found.kept) == {"cutter in"}
    assert found.put_back == []


def test_a_part_that_was_read_back_is_set_although_a_tool_change_has_shifted_it_since() -> None:
    parts = {
        "lid 1": part("lid 1", o1=Write(ZERO, SET, read=SET)),
        "cutter in": part("cutter in", o1=Write(SET, SHIFTED), o2=Write(ZERO, SHIFTED)),
    }
    found = left(parts, one=SHIFTED, two=ZERO)
    assert set(found.kept) == {"lid 1"}


def test_rounding_by_the_controller_is_no_conflict() -> None:
    stored = Position(40.0, 40.0, -45.0004)
    found = left({"lid 1": part("lid 1", ended=True, o1=Write(ZERO, SET, read=stored))}, one=stored)
    assert set(found.kept) == {"lid 1"}
    assert found.conflicts == []


def test_a_part_that_ended_in_a_fault_is_done_again() -> None:
    assert left({"lid 1": part("lid 1", ended=True, well=False)}).kept == {}


def test_what_was_set_in_another_life_is_doubted_until_a_face_is_verified() -> None:
    parts = {"lid 1": part("lid 1", ended=True, life=LIFE - 1, o1=Write(ZERO, SET, read=SET))}
    assert left(parts, one=SET).doubted == ["lid 1"]
    assert left(parts, one=SET, verified=21).doubted == []
    assert left(parts, one=SET, verified=19).doubted == ["lid 1"]


def test_a_part_left_before_a_tool_change_that_is_done_comes_too_late() -> None:
    writes = {"o1": Write(SET, SHIFTED, read=SHIFTED), "o2": Write(SET, SHIFTED, read=SHIFTED)}
    found = left({"cutter in": part("cutter in", ended=True, **writes)}, one=SHIFTED, two=SHIFTED)
    late = too_late(JOB, found)
    assert late is not None
    assert (late[0].name, late[1].name) == ("lid 2", "cutter in")
