"""The state machine of one run: explicit, pure, without I/O and without a clock.

`table` is the place to begin reading. `machine` drives it, `session` is what it remembers, `triage` looks at every
snapshot first, `conditions`, `notes` and `orders` are the table's columns, `ending` says how a run ended.
"""

from gingerly.cycle.ending import outcome
from gingerly.cycle.machine import Cycle, Unhandled, cycle
from gingerly.cycle.session import Course, Session, Setup
from gingerly.cycle.states import State

__all__ = ["Course", "Cycle", "Session", "Setup", "State", "Unhandled", "cycle", "outcome"]
