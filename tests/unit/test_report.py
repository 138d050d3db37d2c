"""The report says the same thing to people and to programs, and its exit code is the one that is promised."""

from __future__ import annotations

import asyncio
import json
from dataclasses import replace

import pytest

from gingerly import Machine, Position, batch, report
from gingerly.batch import Summary
from gingerly.job import Job
from gingerly.messages.faults import Fault, LinkLost, Standstill
from support.bench import bench, corner_routine, scene
from support.jobs import sound
from support.turns import until

LEAD_OFF = {"what": "lead off", "contact": 4}
"""The test lead falls off at the first wall of the second part, and nobody planned it."""


def run(**options: object) -> Summary:
    return batch.run_blocking(sound().with_options(**options))


@pytest.fixture(scope="module")
def good() -> Summary:
    return run()


@pytest.fixture(scope="module")
def bad() -> Summary:
    return run(faults=[LEAD_OFF])


def unplannable() -> Job:
    """The sound job with a part far outside the machine."""
    job = sound()
    lid = job.parts[2].moved(500.0)
    return replace(job, parts=(*job.parts[:2], lid))


def test_the_document_is_plain_json(good: Summary, bad: Summary) -> None:
    for summary in (good, bad):
        document = report.document(summary)
        assert json.loads(json.dumps(document, allow_nan=False)) == document


def test_the_document_has_one_entry_per_part_with_what_stood_before_and_after(good: Summary) -> None:
    lid = report.document(good)["parts"][1]
    assert lid["offsets"][0]["before"] == {"x": 0.0, "y": 0.0, "z": 0.0}
    assert lid["offsets"][0]["after"] == {
        axis: pytest.approx(value, abs=0.001) for axis, value in lid["found"].items()
    }
    assert lid["offsets"][0]["stands"] == "the new values stand"


def test_every_part_tells_how_it_was_touched_and_what_limited_that(good: Summary) -> None:
    for part in report.document(good)["parts"]:
        plan = part["plan"]
        assert 0.0 < plan["slow_feed"] < plan["fast_feed"]
        for number in ("fast_feed", "slow_feed", "back_off", "retouches"):
            assert any(f"{plan[number]:.3f}" in line or f"{plan[number]:.0f}" in line for line in plan["limits"])
        assert any("more would buy nothing" in line or "one more would" in line for line in plan["limits"])


def test_the_error_is_what_was_found_less_the_truth_in_micrometres(good: Summary) -> None:
    for part in report.document(good)["parts"]:
        for axis, error in part["error_um"].items():
            assert error == pytest.approx(1000.0 * (part["found"][axis] - part["truth"][axis]), abs=0.01)


def test_contacts_are_counted_one_fast_and_two_slow_for_each_touch(good: Summary) -> None:
    """A corner has three full touches and one quick one, which only shows that the lead is still on."""
    assert [(part["touches"], part["contacts"]) for part in report.document(good)["parts"]] == [
        (1, 3),
        (4, 10),
        (1, 3),
        (1, 3),
    ]


def test_a_fault_is_told_with_all_that_a_person_needs(bad: Summary) -> None:
    fault = report.document(bad)["parts"][1]["fault"]
    assert fault["name"] == "NoContact"
    assert fault["standstill_confirmed"] is True
    assert "pushed up to" in fault["detail"]
    assert fault["advice"].endswith(".")
    assert fault["expected"] is False


def test_the_story_of_a_fault_says_how_far_a_real_tool_would_have_been_pushed(bad: Summary) -> None:
    deepest = bad.parts[1].deepest
    assert any(f"would have been pushed {deepest:.3f} mm" in line for line in report.fault_story(bad.parts[1]))


def test_what_a_tool_may_run_on_after_a_contact_is_not_told_as_a_push(bad: Summary) -> None:
    allowed = bad.parts[1].part.tool.overtravel
    told = {by: report.fault_story(replace(bad.parts[1], deepest=allowed + by)) for by in (-0.015, 0.0, 0.001)}
    assert [by for by, story in told.items() if any("pushed:" in line for line in story)] == [0.001]


# ---- where it stands -------------------------------------------------------------------------------------------


async def _stopped_on_the_way() -> tuple[Machine, Fault]:
    """A traverse that is cut off 4 mm from where it began, and told to stop there."""
    machine = bench({"what": "pause", "call": "traverse", "nth": 1, "after_mm": 4.0}, position=[150, 100, -20])
    async with machine:
        machine.adapter.stage(scene())  # type: ignore[attr-defined]
        run = asyncio.ensure_future(machine.attempt(corner_routine()))
        await until(lambda: machine.adapter.paused)  # type: ignore[attr-defined]
        run.cancel()
        await asyncio.wait({run})
    assert machine.last is not None
    assert machine.last.fault is not None
    return machine, machine.last.fault


def test_after_a_confirmed_stop_it_is_told_where_the_tool_stands_by_the_display() -> None:
    """The last position that was trusted before is where the way began; a person reads another number."""
    machine, fault = asyncio.run(_stopped_on_the_way())
    true = machine.adapter.true_position  # type: ignore[attr-defined]
    assert fault.position == Position(150.0, 100.0, -20.0)
    assert fault.stands_at is not None
    assert fault.stands_at.distance(true) < 0.003
    told = fault.story().split("\n")
    assert told[told.index("  machine: the machine stands still (confirmed)") + 1] == (
        f"  stands at: {fault.stands_at} (the controller says)"
    )
    assert report.fault_record(fault)["stands_at"]["z"] == pytest.approx(true.z, abs=0.003)


@pytest.mark.parametrize("standstill", [Standstill.UNMOVED, Standstill.UNCONFIRMED])
def test_where_nobody_has_seen_it_stop_no_place_is_told(standstill: Standstill) -> None:
    fault = LinkLost(standstill=standstill, stands_at=Position(1.0, 2.0, 3.0))
    assert "stands at" not in fault.story()
    assert report.fault_record(fault)["stands_at"] is None


# ---- the table --------------------------------------------------------------------------------------------------


def test_the_table_shows_an_origin_as_the_controller_holds_it() -> None:
    """One that keeps hundredths of a millimetre; what was found lies between two of them."""
    summary = run(offset_resolution=0.01)
    held = summary.parts[1].account.offsets[0].read  # type: ignore[union-attr]
    shown = [row.found for row in report.rows(summary) if row.offset == 1][:3]
    assert shown == list(held)  # type: ignore[arg-type]
    assert shown != [value for _, value in summary.parts[1].found]


def test_what_is_off_by_nothing_has_no_sign(good: Summary) -> None:
    account = replace(good.parts[1].account, measures=(("off X", -0.00003), ("off Y", -0.0004)))  # type: ignore[type-var]
    entry = replace(good.parts[1], result=None, away=account)
    assert report.measured(entry) == ["lid 1: off X 0.0000 mm", "lid 1: off Y -0.0004 mm"]


def test_the_table_has_a_row_for_each_axis_and_each_offset_shifted(good: Summary) -> None:
    assert [(row.part, row.offset, row.axis) for row in report.rows(good)] == [
        ("pad", None, "Z"),
        ("lid 1", 1, "X"),
        ("", 1, "Y"),
        ("", 1, "Z"),
        ("lid 2", 2, "Z"),
        ("cutter in", None, "ΔZ"),
        ("", 1, "Z"),
        ("", 2, "Z"),
    ]


def test_the_table_says_why_a_part_has_no_numbers(bad: Summary) -> None:
    assert [row.remark for row in report.rows(bad)] == ["", "failed: NoContact", "not begun", "not begun"]


def test_the_operator_is_told_which_parts_are_left(bad: Summary) -> None:
    steps = report.next_steps(bad)
    assert steps[0].startswith("lid 1 ended with NoContact and is not set.")
    assert steps[1] == "Not begun: lid 2, cutter in."


def test_a_machine_that_may_still_move_comes_first_and_lead_and_plate_second() -> None:
    summary = run(faults=[{"what": "link lost", "call": "sense", "nth": 2}])
    steps = report.next_steps(summary)
    assert steps[0].startswith("Use the stop of cellar mill itself")
    assert steps[1].startswith("Take test lead and touch plate off cellar mill")


def test_an_offset_that_nobody_is_sure_of_is_to_be_read_at_the_controller() -> None:
    summary = run(faults=[{"what": "link lost", "call": "write_offset", "nth": 1}])
    assert any(
        step.startswith("Read work offset 1 (lid 1) at the controller") for step in report.next_steps(summary)
    )


def test_the_exit_code_is_0_when_all_is_done_and_released(good: Summary) -> None:
    assert report.exit_code(good) == 0


def test_the_exit_code_is_1_after_a_fault(bad: Summary) -> None:
    assert report.exit_code(bad) == 1


def test_the_exit_code_is_3_when_it_was_refused_before_motion() -> None:
    summary = batch.run_blocking(unplannable())
    assert report.exit_code(summary) == 3
    assert all(fault.standstill is Standstill.UNMOVED for fault in summary.faults)


def test_the_exit_code_is_4_when_nobody_confirmed_that_lead_and_plate_are_off() -> None:
    assert report.exit_code(run(operator={"answers": {"release": "no"}})) == 4


def test_the_exit_code_is_130_when_it_was_interrupted(good: Summary) -> None:
    assert report.exit_code(replace(good, interrupted=True)) == 130
