"""The table itself: complete, reachable, unambiguous, and the same as its picture."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import get_args

import pytest

from gingerly.cycle import Cycle, State, Unhandled, cycle, stop_test
from gingerly.cycle.diagram import BEGIN, END, fenced, main, mermaid, write_into
from gingerly.cycle.states import ASKING, ENDED, ENDING, GIVING_OVER, MOVING, READING_BACK, RESTING, WRITING
from gingerly.cycle.table import CYCLE, TROUBLE, expanded
from gingerly.explore.scenarios import paper_at
from gingerly.messages.faults import Fault, PlanFault, fault_classes
from gingerly.messages.replies import Arrived, Missed, OffsetRead, OffsetWritten, Reply, Seen, Touched
from support.story import surface as surface_setup
from support.story import tell

REPLIES = get_args(Reply)

REFUSED = {
    State.READY: "nothing was ordered yet",
    State.CHECKING: "only a look is under way",
    State.AWAITING_CLOSED: "a person is asked, or a look is under way",
    State.AWAITING_OPENED: "a person is asked, or a look is under way",
    State.TRAVERSING: "only a traverse is under way",
    State.APPROACHING: "only a sense is under way",
    State.CONTACT: "only a look is under way",
    State.BACKING_OFF: "only a traverse is under way",
    State.RETOUCHING: "only a sense is under way",
    State.RETRACTING: "only a traverse is under way",
    State.RECALLING: "only a reading is under way",
    State.COMMITTING: "only a write is under way",
    State.CONFIRMING: "only a reading is under way",
    State.RESTORING: "only a write is under way",
    State.RECHECKING: "only a reading is under way",
    State.HANDING_OVER: "only a question is under way",
    State.STOPPING: "only a stop or a look is under way",
    State.RETREATING: "only a traverse is under way",
}
"""Why a state refuses the replies for which it has no row."""


def test_the_hand_written_table_fits_one_screen():
    """A newcomer can read the cycle aloud without scrolling through chapters."""
    assert len(CYCLE) <= 75


def test_every_state_answers_every_trouble():
    """Whatever goes wrong, in any state that has not ended, there is a row for it."""
    pairs = {(row.state, row.reply) for row in expanded()}
    troubles = [reply for reply, _ in TROUBLE]
    missing = [(s, r) for s in State if s not in ENDED for r in troubles if (s, r) not in pairs]
    assert missing == []


def test_every_other_pair_is_a_refusal_with_a_reason():
    """A reply that cannot come in a state has no row, and the reason is on this page."""
    assert set(REFUSED) == set(State) - set(ENDED)
    answered = {row.state for row in expanded()}
    assert answered == set(REFUSED)


def test_every_state_belongs_to_one_group():
    """Each state that has not ended shares its troubles with one group, and one only."""
    groups = Counter(
        s for group in (MOVING, RESTING, ASKING, WRITING, READING_BACK, GIVING_OVER, ENDING) for s in group
    )
    assert set(groups) == set(State) - set(ENDED)
    assert max(groups.values()) == 1


def test_every_state_can_be_reached_and_can_end():
    """From ready every state can be reached, and from every state an end."""
    rows = expanded()
    assert _closure({State.READY}, {(row.state, row.next) for row in rows}) == set(State)
    back = {(row.next, row.state) for row in rows}
    assert _closure(set(ENDED), back) == set(State)


def _closure(begin, steps):
    found = set(begin)
    while True:
        more = {after for before, after in steps if before in found} - found
        if not more:
            return found
        found |= more


def test_every_fault_of_a_run_is_set_somewhere_and_every_plan_fault_is_not():
    """The tables name each fault that can end a run; what preflight refuses never comes from a table."""
    rows = (*expanded(), *stop_test.expanded())
    named = {row.note.__name__.removeprefix("!") for row in rows if row.note.__name__.startswith("!")}
    of_runs = {fault.__name__ for fault in fault_classes() if not issubclass(fault, PlanFault)}
    assert named == of_runs - {"NotAsSet"}, "a course alone says that something does not lie where it was set"


def test_a_reply_that_cannot_come_changes_nothing():
    """An illegal step is refused, and the session is as it was."""
    table, paper = cycle(), paper_at()
    session, command = table.start(surface_setup())
    table.advance(session, paper.answer(command))
    before = session.fork()
    for reply in (OffsetWritten(2), Missed(paper.snapshot()), OffsetRead(2, paper.position)):
        assert isinstance(table.advance(session, reply), Unhandled)
    assert all(getattr(session, name) == getattr(before, name) for name in type(session).__slots__)


def test_no_row_may_lead_out_of_an_end():
    """A table that goes on after the end is refused when it is compiled."""
    from dataclasses import replace

    with pytest.raises(ValueError, match="is an end"):
        Cycle([replace(CYCLE[0], state=State.DONE)])


def test_ends_have_no_rows():
    """Nothing follows done or faulted."""
    assert not [row for row in expanded() if row.state in ENDED]


def test_motion_replies_come_only_where_a_motion_was_ordered():
    """Arrived belongs to traverses, touched and missed to senses, seen to looks and stops."""
    expected = {
        Arrived: {State.TRAVERSING, State.BACKING_OFF, State.RETRACTING, State.RETREATING},
        Touched: {State.APPROACHING, State.RETOUCHING},
        Missed: {State.APPROACHING, State.RETOUCHING},
        Seen: {State.CHECKING, State.AWAITING_CLOSED, State.AWAITING_OPENED, State.CONTACT, State.STOPPING},
    }
    for reply, states in expected.items():
        assert {row.state for row in CYCLE if row.reply is reply} == states


def test_the_diagram_in_the_guide_is_fresh():
    """The picture in DEVELOPERS.md is the one that the table makes."""
    guide = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert write_into(guide) == guide


def test_the_diagram_shows_every_edge_of_the_table():
    """No step of the hand-written table is missing from its picture."""
    picture = mermaid()
    for row in CYCLE:
        a, b = (state.value.replace(" ", "_").replace("-", "_") for state in (row.state, row.next))
        assert f"{a} --> {b}: " in picture


def test_the_picture_is_written_where_it_is_told_to_and_printed_otherwise(tmp_path, capsys):
    """`--write FILE` changes the place between the markers, and nothing else; anything else prints."""
    guide = tmp_path / "guide.md"
    guide.write_text(f"before\n{BEGIN}\nold\n{END}\nafter\n", encoding="utf-8")
    main(["--write", str(guide)])
    assert guide.read_text(encoding="utf-8") == f"before\n{fenced()}\nafter\n"
    assert capsys.readouterr().out == ""
    for arguments in (
        [],
        ["--write"],
        ["--print", str(guide)],
        ["--yet", str(guide)],
        ["--write", str(guide), "more"],
    ):
        main(arguments)
        assert capsys.readouterr().out == fenced() + "\n"


def test_the_picture_is_made_by_the_command_and_not_by_an_import(tmp_path):
    """`python -m gingerly.cycle.diagram` prints it, or writes it; whoever only imports the module hears nothing."""
    guide = tmp_path / "guide.md"
    guide.write_text(f"{BEGIN}{END}", encoding="utf-8")
    module = ["-m", "gingerly.cycle.diagram"]
    said = [
        subprocess.run([sys.executable, *how], capture_output=True, check=True, encoding="utf-8").stdout
        for how in (module, [*module, "--write", str(guide)], ["-c", "import gingerly.cycle.diagram"])
    ]
    assert said == [fenced() + "\n", "", ""]
    assert guide.read_text(encoding="utf-8") == fenced()


def test_a_guide_without_a_place_for_the_picture_is_refused():
    for text in ("", BEGIN, f"only {END}"):
        with pytest.raises(ValueError, match="no place for the diagram"):
            write_into(text)


def test_the_documented_faults_are_the_classes():
    """The tree drawn at the top of the faults' module names exactly the classes below it."""
    from gingerly.messages import faults

    drawn = {word for word in faults.__doc__.replace("│", " ").split() if word.isidentifier() and word[0].isupper()}
    assert {fault.__name__ for fault in fault_classes()} <= drawn
    assert issubclass(Fault, Exception)


def test_a_story_told_twice_is_the_same():
    """The cycle is pure: the same replies give the same commands."""
    assert tell(surface_setup()).commands == tell(surface_setup()).commands
