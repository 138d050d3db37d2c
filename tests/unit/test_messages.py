"""What the parts of the library hand to each other: frozen data, and faults that speak to people."""

import copy
import dataclasses
import math
import pickle
import re

import pytest

import gingerly.messages.commands
import gingerly.messages.facts
import gingerly.messages.faults
import gingerly.messages.replies
import gingerly.messages.snapshot
import gingerly.messages.touches
from gingerly.geometry import ORIGIN, Box, Limits, Position
from gingerly.messages.commands import Command, Look, Question
from gingerly.messages.facts import Guard, MachineFacts
from gingerly.messages.faults import (
    ADAPTER_FAULTS,
    Fault,
    NoContact,
    OffsetNotKept,
    OffsetState,
    Stands,
    Standstill,
    fault_classes,
)
from gingerly.messages.replies import Reply
from gingerly.messages.snapshot import AS_PROGRAMMED, InForce
from gingerly.messages.touches import Contact, Face, Place

MODULES = (
    gingerly.messages.commands,
    gingerly.messages.facts,
    gingerly.messages.replies,
    gingerly.messages.snapshot,
    gingerly.messages.touches,
)
DATA = [
    thing
    for module in MODULES
    for thing in vars(module).values()
    if isinstance(thing, type) and dataclasses.is_dataclass(thing) and thing.__module__ == module.__name__
]
FAULTS = fault_classes()

CONTRACT = re.findall(
    r"\w+",
    """
CircuitAlreadyClosed CircuitNotChecked NoContact UnexpectedContact StillClosed UnsteadyContact ContactsDisagree
PlateMoved ImplausibleContact NotAsSet SpindleTurning AlarmActive PositionUnknown ForeignState ControllerRefused
NoAnswer LinkLost ControllerRestarted PositionJumped TooEarly NotStopped OffsetNotKept OutsideEnvelope KeepOutEntered
StartOutsideWindow UnsuitableTool UnsuitablePlate CircuitUnknown Declined NotRecorded Interrupted
    """,
)
"""The names that scripts may rely on."""


def some_facts(**changes):
    """Return the facts of a small machine, with some changes."""
    plain = {
        "name": "bench mill",
        "envelope": Box(Position(0, 0, -100), Position(300, 200, 0)),
        "resolution": 0.0025,
        "acceleration": 250.0,
        "top_feed": 2000.0,
        "rapid_feed": 3000.0,
    }
    return MachineFacts(**plain | changes)


def drawn_tree():
    """Return the tree of faults as the module's docstring draws it: each name with its parent's."""
    parents, group = {}, "Fault"
    for line in gingerly.messages.faults.__doc__.splitlines():
        branch = re.match(r"\s*(│\s+)?[├└]── ", line)
        if branch is None:
            continue
        names = re.findall(r"\b[A-Z]\w+", line)
        if branch[1] is None:
            group = names[0]
            parents[group] = "Fault"
            names = names[1:]
        parents |= dict.fromkeys(names, group)
    return parents


def descendants(fault):
    """Return every class below `fault` that is the library's own; an adapter may have finer ones."""
    own = [child for child in fault.__subclasses__() if child.__module__ == Fault.__module__]
    return [below for child in own for below in (child, *descendants(child))]


# ---- faults -----------------------------------------------------------------------------------------------


def test_the_drawn_tree_is_the_tree_of_classes():
    real = {fault.__name__: fault.__bases__[0].__name__ for fault in descendants(Fault)}
    assert drawn_tree() == real


def test_every_promised_fault_exists_and_ends_a_branch():
    assert sorted(CONTRACT) == [fault.__name__ for fault in FAULTS]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_every_fault_that_ends_a_run_has_words_of_its_own(fault):
    assert "summary" in vars(fault)
    assert "advice" in vars(fault)


@pytest.mark.parametrize("word", ["summary", "advice"])
def test_no_two_faults_say_the_same(word):
    assert len({getattr(fault, word) for fault in FAULTS}) == len(FAULTS)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_a_summary_is_a_clause_and_an_advice_ends_as_a_sentence(fault):
    assert fault.summary[0].islower()
    assert not fault.summary.endswith(".")
    assert fault.advice[0].isupper()
    assert fault.advice[-1] in ".?"


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
@pytest.mark.parametrize("standstill", Standstill)
def test_a_fault_in_one_line_says_what_was_found_whether_it_stands_still_and_what_to_check(fault, standstill):
    text = str(fault("at X1.000, expected X5.000", standstill=standstill))
    for part in (fault.summary, "at X1.000, expected X5.000", standstill.value, fault.advice):
        assert part in text
    assert "\n" not in text


def test_a_fault_without_detail_leaves_no_gap_in_its_line():
    assert str(NoContact()).startswith("no contact was made; nothing was moved. ")


def test_an_unconfirmed_standstill_sends_people_to_the_machines_own_stop():
    assert "may still be moving, use the machine's own stop" in str(NoContact(standstill=Standstill.UNCONFIRMED))


def test_the_story_tells_everything_a_line_each():
    fault = OffsetNotKept(
        "X reads 1.000, meant 5.000",
        state="confirming",
        position=Position(1, 2, 3),
        done="the old values were written again",
        standstill=Standstill.CONFIRMED,
        offsets=(OffsetState(1, ORIGIN, Position(5, 0, 0), Stands.NEITHER, read=Position(1, 0, 0)),),
    )
    assert fault.story().splitlines() == [
        "OffsetNotKept: the work offset does not read back as written",
        "  found: X reads 1.000, meant 5.000",
        "  where: confirming, last trusted position X1.000 Y2.000 Z3.000",
        "  done: the old values were written again",
        "  machine: the machine stands still (confirmed)",
        "  work offset 1: neither the old nor the new values stand (it reads X1.000 Y0.000 Z0.000)",
        "  check first: Read the offsets at the controller before running any program.",
    ]


def test_the_story_leaves_out_what_is_not_known():
    lines = NoContact().story().splitlines()
    assert [line.split(":")[0].strip() for line in lines] == ["NoContact", "where", "machine", "check first"]


@pytest.mark.parametrize("stands", Stands)
def test_an_offsets_state_names_its_number_and_what_stands(stands):
    assert str(OffsetState(3, ORIGIN, ORIGIN, stands)) == f"work offset 3: {stands.value}"


def test_before_anything_ran_a_fault_says_that_nothing_moved():
    fault = Fault()
    assert (fault.state, fault.standstill, fault.position, fault.offsets) == (
        "preflight",
        Standstill.UNMOVED,
        None,
        (),
    )


def test_an_adapter_may_raise_faults_of_its_controller_only():
    assert sorted(fault.__name__ for fault in ADAPTER_FAULTS) == [
        "AlarmActive",
        "ControllerRefused",
        "ControllerRestarted",
        "LinkLost",
        "NoAnswer",
    ]


# ---- frozen data ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", DATA, ids=lambda kind: kind.__name__)
def test_every_message_is_frozen_and_slotted(kind):
    assert kind.__dataclass_params__.frozen
    assert "__slots__" in vars(kind)


def test_every_reply_and_command_is_in_its_union():
    for union, module in ((Command, gingerly.messages.commands), (Reply, gingerly.messages.replies)):
        here = {thing for thing in DATA if thing.__module__ == module.__name__}
        assert set(union.__args__) == here


def test_a_message_is_equal_to_its_copy_and_can_be_kept_and_sent():
    look = Look(0.5, deadline_s=3.0)
    assert pickle.loads(pickle.dumps(look)) == copy.deepcopy(look) == look
    assert hash(look) == hash(Look(0.5, 3.0))


@pytest.mark.parametrize("place", Place)
def test_each_place_of_contact_has_a_question_of_its_own(place):
    assert place.question.value == f"close at {place.value}"


def test_questions_are_told_apart_by_their_words():
    assert len({question.value for question in Question}) == len(Question)


# ---- facts ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["resolution", "acceleration", "top_feed", "rapid_feed", "answer_s"])
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_a_machine_fact_that_cannot_be_is_refused_by_name(name, value):
    with pytest.raises(ValueError, match=f"^the machine fact {name} (cannot|must) be "):
        some_facts(**{name: value})


@pytest.mark.parametrize("name", ["backlash", "settle_s", "look_interval_s", "stop_reaction_s"])
def test_a_machine_fact_may_be_nothing_but_never_less(name):
    assert getattr(some_facts(**{name: 0.0}), name) == 0.0
    with pytest.raises(ValueError, match=name):
        some_facts(**{name: -0.001})


def test_only_a_controller_that_senses_during_traverses_reacts_without_a_look():
    reactions = {
        guard: some_facts(guard=guard, look_interval_s=0.1, stop_reaction_s=0.005).traverse_reaction_s
        for guard in Guard
    }
    assert reactions == pytest.approx({Guard.NONE: 0.105, Guard.POLLED: 0.105, Guard.SENSED: 0.005})


def test_an_uncalibrated_machine_latches_within_two_milliseconds():
    assert some_facts().latch_s == Limits(0.0, 0.002)


# ---- snapshots and faces ----------------------------------------------------------------------------------


def test_nothing_odd_is_in_force_as_programmed():
    assert AS_PROGRAMMED.oddities() == ()


def test_what_a_controller_cannot_tell_is_not_called_odd():
    assert InForce(shift=None, tool_length=None, override=None, rotation=None, inch=None).oddities() == ()


@pytest.mark.parametrize(
    ("in_force", "words"),
    [
        (InForce(shift=Position(0, 0, 0.5)), "an origin shift of X0.000 Y0.000 Z0.500"),
        (InForce(tool_length=-31.25), "a tool length offset of -31.250 mm"),
        (InForce(override=1.2), "a feed override of 120%"),
        (InForce(rotation=0.01), "a rotation of 0.01000 rad"),
        (InForce(inch=True), "inch units"),
    ],
)
def test_what_would_falsify_a_result_is_named_with_its_number(in_force, words):
    assert in_force.oddities() == (words,)


def test_a_faces_spread_leaves_the_fast_contact_out():
    contacts = tuple(Contact(ORIGIN, 300.0, distance) for distance in (5.0, 4.002, 4.000, 4.001))
    assert Face("top", ORIGIN, Position(0, 0, -1), contacts).spread == pytest.approx(0.002)


def test_a_single_contact_has_no_spread():
    assert Face("top", ORIGIN, Position(0, 0, -1), (Contact(ORIGIN, 300.0, 5.0),)).spread == 0.0
