"""Rehearsals: the same run whoever makes it, each with a truth of its own, and an account that adds up."""

from __future__ import annotations

import asyncio
import math
import random
import signal
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

import pytest
from scipy import stats

from gingerly import job as jobs
from gingerly.batch import Batch
from gingerly.budgets import DEFAULTS
from gingerly.driver.machine import Machine
from gingerly.rehearse import AxisRecord, RunRecord, Script, Share, account, document, played, rehearse, rehearsed
from gingerly.rehearse.account import quantile
from gingerly.rehearse.many import deaf_to_ctrl_c, on_cores
from gingerly.rehearse.run import at_once
from gingerly.rehearse.script import tool_length_range
from gingerly.uncertainty import Arcsine, Flat, Normal, Student, Trapezoid, TwoValued
from gingerly.uncertainty.dice import drawn
from gingerly_mock import MockAdapter
from support.jobs import sound
from support.rehearsals import MACHINE, PARTS, rehearsal_of

pytestmark = pytest.mark.thorough

CORNER = Script(job=rehearsal_of("outside corner", "the defaults for home-made parts"), seed=3)


PLAIN = {"doubts": "", "backlash": "0", "noise": "0", "wishes": "{ retouches = 2 }", "guard": "none"}


# ---- the same runs ----------------------------------------------------------------------------------------------


def test_the_records_are_the_same_for_one_worker_and_for_several():
    alone = rehearse(CORNER, 120, workers=1)
    assert rehearse(CORNER, 120, workers=3) == alone
    assert [record.number for record in alone] == list(range(1, 121))


def test_no_worker_hears_the_ctrl_c_that_a_terminal_sends_to_all_and_whoever_waits_for_them_does():
    """Not from its first moment on: one that is torn while it starts breaks the pool."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        with deaf_to_ctrl_c():
            pool.submit(int)
        theirs = pool.submit(signal.pthread_sigmask, signal.SIG_BLOCK, ()).result()
    assert signal.SIGINT in theirs
    assert signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, ())


def test_workers_make_no_more_runs_once_nobody_wants_them():
    """The first chunk is taken, and the other runs are given up: the pool ends though they would take minutes."""
    made = on_cores(CORNER, [range(1, 3), *(range(first, first + 5000) for first in range(3, 30_000, 5000))], 2)
    assert len(next(made)) == 2
    made.close()


def test_one_run_can_be_made_again_alone():
    assert rehearsed(replace(CORNER), 77) == rehearse(CORNER, 80, workers=1)[76]


def test_no_run_knows_what_another_left_in_the_memory_of_the_virtual_machine(tmp_path):
    """The file named for the machine's memory is neither read nor written: runs stay independent."""
    file = tmp_path / "mill.json"
    machine = replace(CORNER.job.machine, options={**CORNER.job.machine.options, "memory": str(file)})
    script = replace(CORNER, job=replace(CORNER.job, machine=machine))
    assert rehearsed(script, 7) == rehearsed(CORNER, 7)
    assert not file.exists()


def test_another_seed_makes_other_worlds():
    ours, theirs = (rehearsed(script, 1) for script in (CORNER, replace(CORNER, seed=4)))
    assert ours.axes != theirs.axes


def test_a_quick_run_is_the_run_that_an_ordinary_machine_makes():
    """The table walked straight and the course planned once change nothing: same findings, time and depth."""
    script = Script(job=sound(), seed=9, rates=(("lead off", 0.3), ("bounce", 0.3), ("write wrong", 0.3)))

    async def ordinary(number):
        adapter = MockAdapter(**script.options(number))
        job = script.job
        machine = Machine(adapter, name="m", operator=adapter.operator, keep_outs=job.keep_outs, doubts=job.doubts)
        async with machine:
            return await Batch(job, machine).run()

    for number in range(1, 16):
        quick, plain = played(script, number)[0], asyncio.run(ordinary(number))
        assert quick.duration_s == plain.duration_s
        assert [entry.found for entry in quick.parts] == [entry.found for entry in plain.parts]
        assert [entry.deepest for entry in quick.parts] == [entry.deepest for entry in plain.parts]
        assert [fault.name for fault in quick.faults] == [fault.name for fault in plain.faults]


def test_what_really_waits_cannot_be_rehearsed():
    with pytest.raises(RuntimeError, match="waits for nothing"):
        at_once(_waiting())


async def _waiting():
    loop = asyncio.new_event_loop()
    try:
        await loop.create_future()
    finally:
        loop.close()


@pytest.mark.parametrize(("runs", "workers"), [(0, 1), (5, 0)])
def test_a_number_that_cannot_be_is_refused(runs, workers):
    with pytest.raises(ValueError, match="at least 1"):
        rehearse(CORNER, runs, workers=workers)


def test_progress_tells_how_far_it_is():
    told = []
    rehearse(CORNER, 60, workers=1, progress=lambda done, of: told.append((done, of)))
    assert told == [(50, 60), (60, 60)]


# ---- the truth --------------------------------------------------------------------------------------------------


CHANGE = """
[[parts]]
name = "pad"
routine = "reference"
plate = "none"
place = { x = 10, y = 10, z = -55 }

[[parts]]
name = "cutter in"
routine = "tool change"
tool = "mill"
compare_with = "pad"
within = 1.2
offsets = [1]

[tools.mill]
diameter = 4
free_length = 25
"""


def changed(more=""):
    """A job in which a second tool, whose length is known within 1.2 mm, comes into the spindle."""
    return jobs.loads(MACHINE.format(**PLAIN, part=PARTS["outside corner"]) + CHANGE + more, source="change")


def test_a_new_tool_is_as_long_as_its_change_allows_for():
    """The machine draws from 0.9 of what the job allows, as it does for a place, and every change comes out."""
    script = Script(job=changed(), seed=2)
    assert script.options(1)["tool_length_range"] == pytest.approx(0.9 * 1.2)
    records = rehearse(script, 25, workers=1)
    assert all(record.done for record in records)
    assert {axis.part for record in records for axis in record.axes} == {"blank", "pad", "cutter in"}


def test_two_later_tools_share_what_may_be_between_them():
    again = '[[parts]]\nname = "pin in"\nroutine = "tool change"\ntool = "third"\ncompare_with = "cutter in"\n'
    job = changed(f"[tools.third]\ndiameter = 3\nfree_length = 20\n{again}offsets = [2]\nwithin = 1")
    assert tool_length_range(job) == pytest.approx(0.45)


def test_what_the_job_says_of_tool_lengths_stands():
    job = changed()
    machine = replace(job.machine, options={**job.machine.options, "tool_length_range": 0.3})
    assert Script(job=replace(job, machine=machine)).options(1)["tool_length_range"] == 0.3


def test_with_a_single_tool_there_is_no_length_to_draw():
    assert tool_length_range(CORNER.job) == 0.0


def test_faults_come_about_as_often_as_asked():
    """Binomial: 400 runs at 0.25, four standard deviations of ± 35."""
    script = replace(CORNER, rates=(("lead off", 0.25), ("answer lost", 0.25)))
    comes = [[one["what"] for one in script.faults(number)] for number in range(400)]
    for what in ("lead off", "answer lost"):
        assert sum(what in names for names in comes) == pytest.approx(100, abs=35)


def test_a_rate_that_is_no_probability_is_refused():
    with pytest.raises(ValueError, match="'lead off' must lie from 0 to 1"):
        replace(CORNER, rates=(("lead off", 1.5),))


def test_faults_end_in_their_fault_and_are_counted():
    """The lead is off after one of twelve contacts; a corner takes eleven, so that some runs end before."""
    found = account(rehearse(replace(CORNER, rates=(("lead off", 1.0),)), 30, workers=1))
    assert found.success.count + dict(found.faults)["NoContact"] == 30
    assert found.success.count < 10


@pytest.mark.parametrize(
    "shape",
    [Flat(0.02, 0.01), Normal(0.003), Arcsine(0.015), Trapezoid(0.01, 0.5), Trapezoid(0.01, 0.0), TwoValued(0.02)],
    ids=lambda shape: shape.name,
)
def test_draws_have_the_mean_and_the_spread_of_their_shape(shape):
    """20,000 draws: mean and standard deviation within five standard errors (of a normal sample, or wider)."""
    dice = random.Random(2)
    values = [drawn(dice, shape) for _ in range(20_000)]
    assert stats.tmean(values) == pytest.approx(shape.middle, abs=5.0 * shape.u / math.sqrt(20_000))
    assert stats.tstd(values) == pytest.approx(shape.u, rel=5.0 / math.sqrt(2 * 20_000))


def test_nothing_is_drawn_from_an_estimate():
    with pytest.raises(TypeError, match="Student"):
        drawn(random.Random(1), Student(0.01, 4))


def test_what_comes_after_the_touch_counts_and_is_allowed_for():
    """A spindle that grows by 0.1 mm until the cut puts the zero of Z, and the one found, that much higher."""
    grows = replace(DEFAULTS, spindle_growth=Flat(0.0, 0.1))
    plain, grown = (
        rehearsed(Script(job=replace(CORNER.job, doubts=doubts), seed=3), 5)
        for doubts in (replace(DEFAULTS, spindle_growth=Flat(0.0)), grows)
    )
    # Storage rounds to a micrometre.
    assert grown.axes[2].error == pytest.approx(plain.axes[2].error, abs=0.0011)
    assert grown.axes[0].error == plain.axes[0].error


# ---- the account ------------------------------------------------------------------------------------------------


def record(number, *errors, done=True, faults=(), machine_s=60.0, deepest=0.1):
    axes = tuple(AxisRecord("blank", "XYZ"[n], error, 0.02) for n, error in enumerate(errors))
    return RunRecord(number, done, faults, axes, machine_s, deepest)


def test_a_share_has_wilsons_interval():
    """Checked against the interval of a general statistics library."""
    theirs = stats.binomtest(188, 200).proportion_ci(0.95, method="wilson")
    assert Share(188, 200).bounds == pytest.approx((theirs.low, theirs.high), abs=1e-7)
    assert Share(0, 0).bounds == (0.0, 1.0)


def test_the_account_tells_errors_shares_times_and_depths():
    records = [record(n, 0.001 * n) for n in range(-9, 11)] + [record(11, 0.03, deepest=0.25, machine_s=90.0)]
    (axis,) = account(records).axes
    assert (axis.count, axis.worst, axis.inside) == (21, 0.03, Share(20, 21))
    assert axis.covering == 0.01
    assert axis.mean == pytest.approx(math.fsum([0.001 * n for n in range(-9, 11)] + [0.03]) / 21)
    assert account(records).deepest == (0.1, 0.25)
    assert account(records).machine_s[2] == 90.0


def test_failed_runs_are_looked_at_first_and_then_the_largest_errors():
    records = [record(1, 0.03), record(2, 0.001), record(3, done=False, faults=("NoContact",)), record(4, 0.05)]
    found = account(records)
    assert [one.number for one in found.worst] == [3, 4, 1, 2]
    assert found.faults == (("NoContact", 1),)
    assert found.success == Share(3, 4)


def test_a_quantile_is_a_value_that_was_there():
    assert quantile([3.0, 1.0, 2.0, 4.0], 0.5) == 2.0
    assert quantile([1.0], 0.95) == 1.0


def test_the_document_is_plain_and_holds_what_the_account_says():
    import json

    found = document(account([record(1, 0.01, -0.02)]), seed=3, title="corner", rates=[("chip", 0.1)])
    assert json.loads(json.dumps(found)) == found
    assert (found["runs"], found["seed"], found["fault_rates"]) == (1, 3, {"chip": 0.1})
    assert [axis["axis"] for axis in found["axes"]] == ["X", "Y"]
    assert found["worst"][0]["axes"][1] == {"part": "blank", "axis": "Y", "error_mm": -0.02, "stated_mm": 0.02}


def test_nothing_rehearsed_has_no_account():
    with pytest.raises(ValueError, match="nothing was rehearsed"):
        account([])
