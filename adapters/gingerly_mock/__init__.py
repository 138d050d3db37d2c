"""A virtual machine in virtual time, with every fault on request: the adapter that needs no machine.

It keeps the truth, so that whatever uses it can be compared with the truth. Nothing sleeps; the same seed and the
same calls give the same bytes.

What it does not model, and what therefore nobody may conclude from it (this is safety information):

- Nothing bends, breaks, heats up or wears. Tool, plate, stock and machine are rigid: a tool pushed into metal
  passes through it, and only `deepest_penetration` tells. Forces, stalls (but for `LOST_STEPS` and `STOPS_SHORT`
  on request), chatter, a slender tool that bends, spindle growth and temperature are missing; with
  `doubts` a set length of spring passes before the circuit closes, and a rehearsal adds the growth afterwards.
- Clamps, jaws, fixtures, the bed, the spindle's nose and cables are not solid. A collision with them goes unseen.
  Jaws and bed matter only in so far as they hold a plate up that would stand on its lips.
- People are not there: no hand in the way, no mistake but those that the options name.
- Moves are trapezoids with one acceleration for all axes and no limit on jerk; axes are square and straight, their
  pitch is exact, steps are even within a full step (but for the screw's error that `doubts` name), and homing comes
  back to the same place.
- Blocks have sharp edges and flat faces: no chamfers, burrs or dents. An edge's form is one number per face, a
  feature's wall has one for each direction in which it is touched. A
  plate lies flat and parallel to the stock: it neither rocks nor turns in its seat, and tips off only where the
  library refuses it; it slides or lifts on request alone.
- A standing cutter is measured against each face of a block by its nearest flute there; against a corner between
  two faces the two reaches are joined by a quarter of an ellipse. Its end is a plain disc. The hollow of a facing
  cutter has no ceiling. A test lead's clip and the holder's nut reach endlessly upward.
- The circuit is open or closed: no resistance, leakage, coolant film, capacitance or slow input filter. A bounce
  is one gap of drawn length after the latch, in senses only. A chip acts where it was when it fell.
- A backlash is a play that the axis crosses before it moves; no friction, no stick-slip, no drift within it.
- The controller has no queue, look-ahead, blending or soft stop, and refuses a command while a motion is under way.
  An override changes the feed; other foreign states (shift, tool length, rotation, inch) are only reported.
- The operator does exactly one thing for each question, at once and completely, at any place within reach.
"""

from gingerly_mock.adapter import MockAdapter
from gingerly_mock.clock import VirtualClock
from gingerly_mock.faults import Happening, What
from gingerly_mock.features import Bore, Boss, Island, Pocket
from gingerly_mock.operator import Habits, SimulatedOperator
from gingerly_mock.options import Options
from gingerly_mock.truth import CallMade, MotionMade

__all__ = [
    "Bore",
    "Boss",
    "CallMade",
    "Habits",
    "Happening",
    "Island",
    "MockAdapter",
    "MotionMade",
    "Options",
    "Pocket",
    "SimulatedOperator",
    "VirtualClock",
    "What",
]
