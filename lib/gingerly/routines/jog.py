"""One step of a jog: how far it may go, how fast, and whether there is room. Nothing here moves.

Below clearance, and while the circuit was not checked, nobody knows whether a contact would be seen: a step is then
no longer than `UNGUARDED`.
"""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.geometry import Axis, Position
from gingerly.messages.facts import Guard, MachineFacts
from gingerly.messages.faults import StartOutsideWindow
from gingerly.messages.touches import Leg, Place, Step, Way
from gingerly.planner import limited_traverse
from gingerly.routines.course import Faces, Site
from gingerly.routines.preflight import check_way
from gingerly.tool import Tool

UNGUARDED = 0.5
"""The longest step in mm below clearance where no contact would stop it. Our own choice."""

LONGEST = 50.0
"""The longest step anywhere, in mm. Our own choice."""


@dataclass(frozen=True, slots=True)
class JogCourse:
    """A course of one step. `back_to` is where the line began that closed the circuit (mm), if it is closed."""

    way: Way
    back_to: Position | None = None
    places: tuple[Place, ...] = (Place.TIP,)

    def next(self, faces: Faces) -> Step:
        """Return the step."""
        return self.way


def is_guarded(facts: MachineFacts, *, checked: bool) -> bool:
    """Return whether a contact on the way would be seen: the circuit is checked, and somebody watches it."""
    return checked and facts.circuit_known and facts.guard is not Guard.NONE


def longest_step(facts: MachineFacts, *, low: float, clearance: float, checked: bool) -> float:
    """Return the longest step in mm whose lowest point is machine Z `low` (mm)."""
    above = low >= clearance - facts.position_slack
    return LONGEST if above or is_guarded(facts, checked=checked) else UNGUARDED


@dataclass(frozen=True, slots=True, kw_only=True)
class JogStep:
    """One step along one axis by `distance` mm (its sign is the direction).

    `clearance` is the machine Z (mm) from which on everything is free; left out, it is the top of Z. `checked` says
    that the circuit check holds. With the circuit closed, `back_to` is where the last line began.
    """

    axis: Axis
    distance: float
    tool: Tool
    clearance: float | None = None
    checked: bool = False
    back_to: Position | None = None

    def plan(self, site: Site) -> JogCourse:
        """Return the course of the step.

        Raises `StartOutsideWindow` for a step that is too long here, `OutsideEnvelope` or `KeepOutEntered`.
        """
        facts, here = site.facts, site.here
        clearance = facts.envelope.high.z if self.clearance is None else self.clearance
        to = self._target(here)
        low = min(here.z, to.z)
        longest = longest_step(facts, low=low, clearance=clearance, checked=self.checked)
        if here.distance(to) > longest + facts.position_slack:
            unguarded = longest == UNGUARDED
            why = "where nothing would stop it at a contact" if unguarded else "here"
            check = unguarded and is_guarded(facts, checked=True)
            raise StartOutsideWindow(
                f"a step of {here.distance(to):.3f} mm: at most {longest:g} mm {why}",
                advice=f"Take a shorter step{', or check the circuit first: then a contact stops it' * check}.",
            )
        feed = facts.top_feed
        if low < clearance - facts.position_slack:
            feed, _ = limited_traverse(facts, self.tool)
        leg = Leg(to, feed)
        check_way((leg,), f"jog along {self.axis.name}", site, self.tool)
        return JogCourse(Way((leg,)), self.back_to)

    def _target(self, here: Position) -> Position:
        """Return where the step ends; back off a contact it ends where the line to it began, at the latest."""
        to = here.with_axes({self.axis: here[self.axis] + self.distance})
        begin = self.back_to
        if begin is None:
            return to
        back = begin[self.axis] - here[self.axis]
        if back * self.distance > 0.0 and abs(back) < abs(self.distance):
            return here.with_axes({self.axis: begin[self.axis]})
        return to
