"""Rehearse a job many times on virtual machines, each with a truth of its own, drawn from what the job leaves open.

::

    script = Script(job=gingerly.job.read("dials.toml"), seed=1)
    found = account(rehearse(script, 1000))
    print(found.success.value, [(axis.axis, axis.covering, axis.stated) for axis in found.axes])

Place, skew, tool, plate, seat and edges, reaction time and backlash, all are truly somewhere within what the job
and the machine's facts say, and what comes between touch and cut is drawn too. What nobody could know is compared
with what was found.
"""

from __future__ import annotations

from gingerly.rehearse.account import Account, AxisAccount, Share, account, document
from gingerly.rehearse.many import rehearse
from gingerly.rehearse.run import AxisRecord, RunRecord, played, rehearsed
from gingerly.rehearse.script import Script

__all__ = [
    "Account",
    "AxisAccount",
    "AxisRecord",
    "RunRecord",
    "Script",
    "Share",
    "account",
    "document",
    "played",
    "rehearse",
    "rehearsed",
]
