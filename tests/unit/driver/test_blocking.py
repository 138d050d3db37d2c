"""The blocking machine: what it leaves out it leaves to the machine, and it leaves nothing running behind."""

from __future__ import annotations

import threading

import pytest

from gingerly import LinkLost, Question
from gingerly.driver.blocking import BlockingMachine
from support.bench import bench, corner_routine, spot


def threads() -> list[threading.Thread]:
    return [one for one in threading.enumerate() if one.name == "gingerly"]


@pytest.mark.parametrize("run", [BlockingMachine.probe, BlockingMachine.attempt])
def test_lead_and_plate_stay_on_after_a_run_unless_it_is_to_hand_over(run) -> None:  # type: ignore[no-untyped-def]
    """The next routine of the script needs them."""
    made = bench()
    with BlockingMachine(lambda: made) as machine:
        machine.stage(spot())
        assert not run(machine, corner_routine()).outcome.released
    assert Question.RELEASE not in [one[1] for one in made.adapter.operator.questions]  # type: ignore[attr-defined]


def test_a_blank_lies_square_unless_more_is_said() -> None:
    made = bench()
    with BlockingMachine(lambda: made) as machine:
        machine.stage(spot())
        assert made.adapter.true_skew == 0.0  # type: ignore[attr-defined]
        machine.stage(spot(), skew=0.02)
        assert 0.0 < abs(made.adapter.true_skew) <= 0.02  # type: ignore[attr-defined]


def test_a_script_that_ends_without_leaving_its_machine_is_not_kept_from_ending() -> None:
    with BlockingMachine(bench):
        assert [one.daemon for one in threads()] == [True]


@pytest.mark.parametrize(
    ("make", "why"),
    [(lambda: bench({"what": "link lost", "call": "open"}), LinkLost), (lambda: 1 / 0, ZeroDivisionError)],
)
def test_a_machine_that_cannot_be_entered_leaves_no_thread_behind(make, why) -> None:  # type: ignore[no-untyped-def]
    before = threads()
    with pytest.raises(why), BlockingMachine(make):
        pass
    assert threads() == before
