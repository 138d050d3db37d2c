"""How fast a touch may go: by what the tool bears, by the machine, and as asked for. Nothing here moves."""

from __future__ import annotations

from gingerly.kinematics import fastest_feed, stopping_distance
from gingerly.messages.facts import Guard, MachineFacts
from gingerly.planner.wishes import Wishes
from gingerly.tool import Tool

FREE_WAY = 0.5
"""Millimetres that a back-off goes beyond what braking and backlash need. The open RS274/NGC report refuses a
probe move whose target is nearer than 0.254 mm (NISTIR 6556, 3.5.9.1), so it is more than that: how much is
our own choice."""


def fast_feed(facts: MachineFacts, tool: Tool, wishes: Wishes) -> tuple[float, str]:
    """Return the fastest feed of an approach in mm/min, and what limits it.

    A machine comes to rest on a motor step, at worst the next one beyond where braking ends: that step is taken off
    what the tool may run on.
    """
    reaction = facts.stop_reaction_s + facts.sample_interval_s
    room = max(tool.overtravel - facts.resolution, tool.overtravel / 2.0)
    limits = [
        (
            fastest_feed(room, acceleration=facts.acceleration, reaction_s=reaction),
            f"the tool may run on {tool.overtravel:g} mm",
        ),
        (facts.top_feed, "the machine's top feed"),
    ]
    if wishes.fast_feed is not None:
        limits.append((wishes.fast_feed, "the feed asked for"))
    feed, because = min(limits)
    return feed, f"approach at {feed:.0f} mm/min: {because}"


def limited_traverse(facts: MachineFacts, tool: Tool) -> tuple[float, str]:
    """Return the highest feed in mm/min of a traverse below clearance, and what limits it.

    Where something unexpected is met, the tool may run on by no more than its overtravel until a look (or the
    guard, where there is one) has seen it and the machine has stopped.
    """
    reaction = facts.traverse_reaction_s
    feed = fastest_feed(tool.overtravel, acceleration=facts.acceleration, reaction_s=reaction)
    if feed >= facts.top_feed:
        return facts.top_feed, f"traverse below clearance at {facts.top_feed:.0f} mm/min: the machine's top feed"
    seen = {
        Guard.SENSED: f"the controller sees the circuit {reaction:.3f} s late",
        Guard.POLLED: f"a look sees the circuit {reaction:.3f} s late",
        Guard.NONE: (
            f"nobody looks while it moves, so in pieces of at most {tool.miss_limit:g} mm, each looked at, and as if"
            f" a look saw the circuit {reaction:.3f} s late"
        ),
    }[facts.guard]
    return feed, (
        f"traverse below clearance at {feed:.0f} mm/min: {seen}, and the tool may run on {tool.overtravel:g} mm"
    )


def least_back_off(facts: MachineFacts, fast: float, slow: float) -> tuple[float, str]:
    """Return the shortest back-off in mm for these feeds (mm/min), and what it is made of."""
    reaction = facts.stop_reaction_s + facts.sample_interval_s
    ran_on = stopping_distance(fast, acceleration=facts.acceleration, reaction_s=reaction)
    run_up = stopping_distance(slow, acceleration=facts.acceleration)
    least = ran_on + facts.backlash + run_up + FREE_WAY
    return least, (
        f"back off {least:.3f} mm: {ran_on:.3f} run on, {facts.backlash:.3f} backlash, {run_up:.3f} run-up and"
        f" {FREE_WAY:g} free"
    )


def back_off(facts: MachineFacts, wishes: Wishes, fast: float, slow: float) -> tuple[float, str]:
    """Return the back-off in mm, as asked for where that is enough, and why it is that long."""
    least, because = least_back_off(facts, fast, slow)
    asked = wishes.back_off
    if asked is None:
        return least, because
    if asked >= least:
        return asked, f"back off {asked:.3f} mm: as asked for"
    return least, f"{because} ({asked:.3f} asked for is {least - asked:.3f} too little)"
