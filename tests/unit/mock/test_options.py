"""Options are plain data, checked before anything is made of them."""

import tomllib

import pytest

from gingerly.geometry import Box, Limits, Position
from gingerly.messages.facts import Guard, Home, MachineFacts, SpindleKnowledge
from gingerly_mock import MockAdapter
from gingerly_mock.options import DEFAULT_FACTS, HONEST, parse


def test_a_toml_table_says_everything():
    table = tomllib.loads("""
        seed = 7
        ideal = true
        name = "the mill by the window"
        acceleration = 150.0
        resolution = "0.01 mm"
        top_feed = "40 in/min"
        guard = "polled"
        home = "none"
        spindle = "by hand"
        latch_s = [0.0, 0.003]
        envelope = { low = [0, 0, -100], high = ["10 in", 200, 0] }
        runout = 0.01
        offsets = { 1 = [1, 2, 3] }
        operator = { seconds = 2, answers = { clear = ["no", "yes"] } }
        faults = [{ what = "lead off", contact = 2 }]
    """)
    facts, options = parse(table)
    assert (facts.name, facts.guard, facts.home, facts.spindle) == (
        "the mill by the window",
        Guard.POLLED,
        Home.NONE,
        SpindleKnowledge.BY_HAND,
    )
    assert (facts.top_feed, facts.resolution, facts.latch_s) == (1016.0, 0.01, Limits(0.0, 0.003))
    assert facts.envelope == Box(Position(0.0, 0.0, -100.0), Position(254.0, 200.0, 0.0))
    assert (options.runout, options.seating_gap, options.offsets[1]) == (0.01, 0.0, (1.0, 2.0, 3.0))


def test_left_out_every_imperfection_takes_an_honest_size():
    _, options = parse({})
    assert {name: getattr(options, name) for name in HONEST} == HONEST
    assert all(size > 0.0 for size in HONEST.values())


def test_an_ideal_machine_has_no_imperfection_but_those_asked_for():
    _, options = parse({"ideal": True, "runout": 0.02})
    assert {name: getattr(options, name) for name in HONEST} == dict.fromkeys(HONEST, 0.0) | {"runout": 0.02}
    assert (options.latch_lag_s, options.stop_delay_s, options.sample_s, options.true_backlash) == (0.0,) * 4


def test_whole_facts_can_be_given_and_changed_by_name():
    facts = MachineFacts(
        name="own", envelope=DEFAULT_FACTS.envelope, resolution=0.1, acceleration=10, top_feed=100, rapid_feed=100
    )
    found, _ = parse({"facts": facts, "acceleration": 20.0})
    assert (found.name, found.resolution, found.acceleration) == ("own", 0.1, 20.0)


def test_a_machine_starts_where_it_is_told_or_above_the_middle_of_its_table(drive):
    assert [
        MockAdapter(position=[1.0, 2.0, -3.0]).true_position,
        MockAdapter().true_position,
    ] == [(1.0, 2.0, -3.0), (150.0, 100.0, 0.0)]


def test_an_unknown_option_is_refused_with_the_nearest_known_one():
    with pytest.raises(TypeError, match=r"'runnout'; the nearest is 'runout'"):
        MockAdapter(runnout=0.01)
    with pytest.raises(TypeError, match=r"'aceleration'; the nearest is 'acceleration'"):
        MockAdapter(facts={"aceleration": 1.0})


@pytest.mark.parametrize(
    ("options", "named"),
    [
        ({"ideal": "yes"}, "ideal"),
        ({"seed": 1.5}, "seed"),
        ({"seed": True}, "seed"),
        ({"runout": -0.1}, "runout"),
        ({"runout": "soft"}, "runout"),
        ({"runout": float("nan")}, "runout"),
        ({"latency_s": float("inf")}, "latency_s"),
        ({"guard": "maybe"}, "guard"),
        ({"circuit_known": 1}, "circuit_known"),
        ({"acceleration": -5.0}, "acceleration"),
        ({"acceleration": "fast"}, "acceleration"),
        ({"envelope": [0, 1]}, "envelope"),
        ({"envelope": {"low": [0, 0, 0], "high": [1, 1]}}, "envelope high"),
        ({"envelope": {"low": [0, 0, 0], "high": [-1, 1, 1]}}, "inside out"),
        ({"latch_s": [0.0]}, "latch_s"),
        ({"offsets": {"10": [0, 0, 0]}}, "1 to 9"),
        ({"offsets": [1]}, "offsets"),
        ({"position": [1, 2]}, "position"),
        ({"facts": 3}, "facts"),
        ({"offsets": {"x": [0, 0, 0]}}, "1 to 9"),
        ({"position": {"x": 1.0, "y": 2.0}}, "position"),
        ({"latch_s": {"low": 0.0}}, "latch_s"),
        ({"faults": 5}, "faults must be a list of tables"),
        ({"faults": "lead off"}, "faults must be a list of tables"),
        ({"operator": {"answers": 3}}, "answers must be a table"),
        ({"operator": {"seconds_for": 3}}, "seconds_for must be a table"),
        ({"operator": {"forgets": 3}}, "forgets must be a list"),
        ({"operator": {"forgets": "open"}}, "forgets must be a list"),
        ({"history": 1e30}, "history must be a whole number"),
        ({"history": 1.5}, "history must be a whole number"),
        ({"doubts": 3}, r"a job has a table \[doubts\]"),
    ],
)
def test_an_unusable_value_is_refused_by_name(options, named):
    with pytest.raises(ValueError, match=named):
        MockAdapter(**options)
