"""The look at the new zeros at the end of a batch: each waits for an answer of its own, and for the release first."""

from __future__ import annotations

import asyncio

import pytest

from gingerly import Axis, Position, Question, batch
from gingerly.batch import Batch, Summary
from gingerly.messages.faults import LinkLost
from support.jobs import sound

HEIGHT = 20.0


def looked(**options: object) -> tuple[Summary, int, Position]:
    """Do the sound job, two parts and then a tool change, and look at its zeros.

    Returns the summary, how often the question was asked, and where the tool stood in the end.
    """

    async def work() -> tuple[Summary, int, Position]:
        job = sound().with_options(ideal=True, **options)
        async with batch.connect(job) as machine:
            one = Batch(job, machine)
            one.look_height = HEIGHT
            summary = await one.run()
            asked = [question for _, question, _ in machine.adapter.operator.questions]  # type: ignore[attr-defined]
            return summary, asked.count(Question.LOOK_AT_ZERO), machine.adapter.true_position  # type: ignore[attr-defined]

    return asyncio.run(work())


def test_every_zero_is_looked_at_after_an_answer_of_its_own() -> None:
    """The tool ends as high as asked for above the stock, although it is not the tool that touched that part."""
    summary, asked, stands = looked()
    assert summary.looked_at == (1,)
    assert asked == 2
    true = dict(summary.parts[1].truth)
    face = (
        true[Axis.Z] + 0.5 + dict(summary.parts[3].truth)[Axis.Z]
    )  # the face reads 0.5; the second tool is longer
    assert stands == pytest.approx((true[Axis.X], true[Axis.Y], face + HEIGHT), abs=0.01)


def test_where_nobody_knows_what_lies_below_it_is_said_and_left_out() -> None:
    """The second part sets Z alone; where its X and Y come from, nobody says."""
    summary, _, _ = looked()
    assert [note for note in summary.notes if "work offset 2: nobody knows" in note]


def test_while_lead_and_plate_are_on_nothing_moves() -> None:
    summary, asked, _ = looked(operator={"answers": {"release": "no"}})
    assert summary.looked_at == ()
    assert asked == 0
    assert "nobody looked at the new zeros: test lead and plate are not confirmed off" in summary.notes


def test_who_says_no_ends_the_looking_and_nothing_else() -> None:
    summary, asked, _ = looked(operator={"answers": {"look at zero": "no"}})
    assert summary.looked_at == ()
    assert asked == 1
    assert summary.complete
    assert not summary.faults


def test_a_fault_on_the_way_down_is_a_fault_of_the_batch() -> None:
    """All parts are set by then, and the person is told that the machine may still be moving."""
    quiet, _, _ = looked()
    last = quiet.parts[3].result
    assert last is not None
    summary, _, _ = looked(faults=[{"what": "link lost", "time_s": quiet.duration_s - 6.0}])
    assert isinstance(summary.after, LinkLost)
    assert summary.faults == (summary.after,)
    assert summary.complete
