"""Line-oriented controllers over a serial port or a socket: RS274/NGC out, a wire profile in.

What it cannot do, and what therefore nobody may rely on (this is safety information):

- A restart is noticed only where the profile names a greeting or a count of starts.
- Whether a work-only position is shifted (the G92 family, a tool length offset) shows only where the profile tells.
- A motion that was ordered before the link broke goes on; only the machine's own stop reaches it then.
- The lock on a port is advisory: a terminal program that does not ask for it reads along, and answers get lost.
"""

from gingerly_serial.adapter import SerialAdapter
from gingerly_serial.profile import Profile, ProfileError, load

__all__ = ["Profile", "ProfileError", "SerialAdapter", "load"]
