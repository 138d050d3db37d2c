"""The states of the cycle, each named for the reply it waits for, and the groups that share their troubles."""

from __future__ import annotations

from enum import Enum


class State(Enum):
    """A state of the cycle; the value is how people are told about it."""

    READY = "ready"
    CHECKING = "checking"
    AWAITING_CLOSED = "awaiting closed"
    AWAITING_OPENED = "awaiting opened"
    TRAVERSING = "traversing"
    APPROACHING = "approaching"
    CONTACT = "contact"
    BACKING_OFF = "backing off"
    RETOUCHING = "re-touching"
    RETRACTING = "retracting"
    RECALLING = "recalling"
    COMMITTING = "committing"
    CONFIRMING = "confirming"
    HANDING_OVER = "handing over"
    RESTORING = "restoring"
    RECHECKING = "rechecking"
    STOPPING = "stopping"
    RETREATING = "retreating"
    DONE = "done"
    FAULTED = "faulted"


MOVING = (State.TRAVERSING, State.APPROACHING, State.BACKING_OFF, State.RETOUCHING, State.RETRACTING)
"""A motion was ordered and has not been reported as over."""

TOWARDS = (State.TRAVERSING, State.APPROACHING, State.RETOUCHING, State.CONTACT)
"""The last motion led forward: the line just travelled leads back to a free point."""

RESTING = (State.READY, State.CHECKING, State.CONTACT, State.RECALLING)
"""The machine stands still and nothing has been written."""

ASKING = (State.AWAITING_CLOSED, State.AWAITING_OPENED)
"""A person is asked, or was just asked; the machine stands still."""

WRITING = (State.COMMITTING,)
"""A work offset is being written: what stands must be read before anything else, where it can be."""

READING_BACK = (State.CONFIRMING, State.RESTORING)
"""A work offset that can be read was written and is not known to stand: it must be read before anything else."""

GIVING_OVER = (State.HANDING_OVER,)
"""Everything is set; a person is asked to take lead and plate off."""

ENDING = (State.RECHECKING, State.STOPPING, State.RETREATING)
"""The run is being brought to its end after a fault; more trouble only ends it sooner."""

ENDED = (State.DONE, State.FAULTED)
