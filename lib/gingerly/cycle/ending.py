"""What a session that has ended says: its outcome, and the full fault."""

from __future__ import annotations

from gingerly.cycle.explain import told
from gingerly.cycle.session import Session
from gingerly.cycle.states import State
from gingerly.cycle.table import TROUBLE
from gingerly.messages.commands import AxisValues
from gingerly.messages.facts import Home
from gingerly.messages.faults import Fault, Standstill
from gingerly.messages.outcome import Outcome
from gingerly.messages.replies import Refused, Reply
from gingerly.messages.touches import Finding, Measures, Setting


def outcome(session: Session) -> Outcome:
    """Return how the run ended; raises `ValueError` while it goes on."""
    if session.state not in (State.DONE, State.FAULTED):
        raise ValueError(f"the run goes on: it is {session.state.value}")
    done = session.state is State.DONE
    return Outcome(
        fault=None if done else fault(session),
        standstill=Standstill.CONFIRMED if done else session.standstill,
        faces=session.faces,
        touches=session.touches,
        found=_found(session),
        offsets=tuple(work.state for work in session.works),
        released=session.released,
        unconfirmed=_unconfirmed(session),
        proof=session.proof if done else None,
        position=session.snapshot.position if session.snapshot is not None else None,
        measures=_measures(session),
    )


def fault(session: Session) -> Fault:
    """Return the full fault of a faulted session."""
    blame = session.blame
    assert blame is not None
    return blame.fault(
        blame.detail,
        state=blame.state.value,
        position=blame.position,
        done=_done(session),
        standstill=session.standstill,
        offsets=tuple(work.state for work in session.works),
        code=blame.code,
        stands_at=session.snapshot.position if session.snapshot is not None else None,
    )


def fault_of(reply: Reply) -> Fault | None:
    """Return the fault that a reply means outside any run, or None where it is no trouble."""
    named = dict(TROUBLE).get(type(reply))
    if named is None:
        return None
    code = reply.code if isinstance(reply, Refused) else ""
    return named(told(reply), state="looking", done="no motion was ordered", code=code)


def _done(session: Session) -> str:
    steps = []
    if session.stopped:
        steps.append(
            "told the machine to stop" if session.heeded else "tried to stop the machine, and was not heard"
        )
    if session.restored:
        steps.append("wrote the old values back")
    if session.retreated and session.snapshot is not None:
        steps.append(f"went back along its path to {session.snapshot.position}")
    if not steps:
        steps.append("no motion was ordered" if session.motion is None else "no further motion was ordered")
    steps.extend(f"then: {trouble}" for trouble in session.afterwards)
    return "; ".join(steps)


def _found(session: Session) -> AxisValues:
    step = session.upcoming
    if isinstance(step, Finding):
        return step.axes
    if isinstance(step, Setting):
        return tuple(pair for change in step.changes[:1] if not change.relative for pair in change.axes)
    return ()


def _measures(session: Session) -> Measures:
    step = session.upcoming
    return step.measures if isinstance(step, Finding | Setting) else ()


def _unconfirmed(session: Session) -> tuple[str, ...]:
    reasons = []
    if session.blind:
        reasons.append("the machine cannot tell the circuit: every contact rests on the operator's word")
    if session.waived or (session.proof is not None and session.proof.waived and not session.blind):
        reasons.append("the circuit check was waived")
    if session.works and not session.in_force_told:
        reasons.append(
            "the machine cannot tell all of what is in force: that nothing falsifies this is the operator's word"
        )
    if session.works and not session.facts.offsets_readable:
        reasons.append("the machine cannot read its work offsets back")
    if session.works and session.facts.home is Home.NONE:
        reasons.append("the machine has no home switches: what was set holds until power-off")
    return tuple(reasons)
