"""What a run leaves behind besides an origin, and what is other on a machine without home switches."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gingerly.cycle import Setup, State
from gingerly.explore.features import BARE, bare_paper
from gingerly.explore.scenarios import FACTS, HERE, SITE, paper_at
from gingerly.messages.facts import Home
from gingerly.routines import Repeatability, SkewedCorner
from support.story import HELD, deviating, surface, tell


def setup_of(routine):
    return Setup(facts=FACTS, course=routine.plan(SITE), here=HERE, proof=HELD)


def test_measures_of_a_finding_are_in_the_outcome():
    """A routine that sets nothing tells what it measured."""
    story = tell(setup_of(Repeatability(spot=BARE, touches=3)), paper=bare_paper())
    assert dict(story.outcome.measures) == pytest.approx(
        {"standard deviation": 0.0, "range": 0.0, "repeatability": 0.0}
    )
    assert story.outcome.found == ()


def test_measures_of_a_setting_are_in_the_outcome_beside_the_origin():
    """The rotation of a corner has no place in a work offset."""
    story = tell(setup_of(SkewedCorner(spot=BARE, offset=2)), paper=bare_paper())
    assert [name for name, _ in story.outcome.measures] == ["rotation"]
    assert len(story.outcome.found) == 3


def test_what_is_set_on_a_machine_without_home_switches_holds_until_power_off():
    """The result says so, and says nothing of the kind where nothing was set."""
    facts = replace(FACTS, home=Home.NONE)
    told = tell(surface(facts=facts)).outcome.unconfirmed
    assert told == ("the machine has no home switches: what was set holds until power-off",)
    assert tell(surface(facts=facts, offset=None)).outcome.unconfirmed == ()
    assert tell(surface()).outcome.unconfirmed == ()


@pytest.mark.parametrize("home", list(Home))
def test_a_machine_that_cannot_be_homed_goes_back_along_its_path_after_a_miss(home):
    """It says that it is not homed, as ever, and its position is as good as before."""
    facts, paper = replace(FACTS, home=home), paper_at()
    paper.changed = {"homed": home is Home.SWITCHES}
    story = tell(surface(facts=facts), deviating(State.APPROACHING, "no contact"), paper=paper)
    assert story.fault.name == "NoContact"
    assert story.session.snapshot.position.z == facts.envelope.high.z
