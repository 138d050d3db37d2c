"""How far off a face may be by touching alone: latching, resolution, and what is not known of the reaction time.

A contact latched at speed v by samples T apart lies anywhere within v·T: u = v·T/√12, over √n for the mean of n.
Rounding to steps q adds q/√12, of which the mean keeps κ (`rounding_kept`: all where contacts scatter over less
than a step, 1/√n over whole ones). A mean lateness known within ±h adds v·h/√3. Extrapolated to no speed from one
contact at v₁ and a mean at v₂, the lateness drops out and the scatter grows:

    u² = (v₁/(v₁ − v₂))²·(v₂²T²/12n + κ²q²/12) + (v₂/(v₁ − v₂))²·(v₁²T²/12 + q²/12)

That takes for granted that a latch comes before the machine brakes: one that comes later is no longer v·t late, and
two feeds lead elsewhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from gingerly.kinematics import speed_mm_s
from gingerly.messages.facts import MachineFacts
from gingerly.statistics.rounding import rounding_kept

ROOT_12 = math.sqrt(12.0)
ROOT_3 = math.sqrt(3.0)


@dataclass(frozen=True, slots=True)
class Touching:
    """How a face is touched: feeds in mm/min, the number of slow contacts, and whether they are extrapolated."""

    fast: float
    slow: float
    retouches: int
    extrapolated: bool = False

    @property
    def feed(self) -> float:
        """The feed of the contacts that count, in mm/min."""
        return self.slow if self.retouches else self.fast


def lateness_left_s(facts: MachineFacts) -> float:
    """Return within how many seconds, either way, the mean lateness of a latch is known.

    The facts bound every single latch; of that range the sampling takes its own interval, anew at each contact.
    """
    half = facts.latch_s.half_width
    return max(0.0, half - facts.sample_interval_s / 2.0)


def may_extrapolate(facts: MachineFacts) -> bool:
    """Return whether two feeds lead to the place at none: not where a latch may come after braking has begun."""
    return facts.latch_s.high <= facts.stop_reaction_s


def parts(facts: MachineFacts, way: Touching) -> dict[str, float]:
    """Return what adds to a face's standard uncertainty by touching, in mm, by name."""
    interval, step = facts.sample_interval_s, facts.resolution / ROOT_12
    slow = speed_mm_s(way.feed)
    latching = slow * interval / ROOT_12 / math.sqrt(max(1, way.retouches))
    rounded = step * rounding_kept(slow * interval / facts.resolution, way.retouches)
    if not way.extrapolated:
        return {
            "latching": latching,
            "resolution": rounded,
            "reaction time": slow * lateness_left_s(facts) / ROOT_3,
        }
    fast = speed_mm_s(way.fast)
    mean_counts, fast_counts = fast / (fast - slow), slow / (fast - slow)
    return {
        "latching": mean_counts * latching,
        "resolution": mean_counts * rounded,
        "the approach's single contact": fast_counts * math.hypot(fast * interval / ROOT_12, step),
    }


def touching_u(facts: MachineFacts, way: Touching) -> float:
    """Return the standard uncertainty in mm that touching adds to a face."""
    return math.hypot(*parts(facts, way).values())


def ruling(facts: MachineFacts, way: Touching) -> str:
    """Return what adds most."""
    found = parts(facts, way)
    return max(found, key=lambda name: found[name])
