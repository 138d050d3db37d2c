"""The practice controller itself: modal state, the probe's rules, offsets, latching alarms, one motion at a time.

It runs the virtual machine on a real clock. Lines wait while a motion goes on; requests of one byte do not.
Where the NIST report (NISTIR 6556) says what a line means, that is what happens here; sections in brackets.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from gingerly.geometry import Position
from gingerly.messages.faults import AlarmActive, ControllerRefused
from gingerly_mock.faults import Happening, What
from gingerly_mock.machine import SENSE, TRAVERSE, Machine
from gingerly_mock.mishaps import suffer
from gingerly_mock.run import Run
from gingerly_serial.practice.blocks import GROUPS, BadBlock, Block, read_block
from gingerly_serial.practice.mischief import ON_WRITES, Mischief
from gingerly_serial.practice.modal import Modal
from gingerly_serial.practice.speaker import Speaker
from gingerly_serial.practice.telling import Emit, Teller
from gingerly_serial.practice.truth import TruthLog

MOST_WAITING = 64
"""Lines that may wait; more are refused. Our own choice."""


@dataclass(slots=True)
class Under:
    """The motion under way: its line's number, and what is still to be said about it."""

    run: Run
    number: int | None
    senses: bool
    ordinal: int
    stopped: bool = False


class Controller:
    """Reads lines, moves the virtual machine, and says what the profile has words for."""

    def __init__(
        self,
        machine: Machine,
        speaker: Speaker,
        truth: TruthLog,
        emit: Emit,
        *,
        contact_after_answer: bool = False,
    ) -> None:
        self.machine = machine
        self.speaker = speaker
        self.truth = truth
        self.mischief: list[Mischief] = []
        self._timed: list[tuple[float, Mischief]] = []
        self._once: list[Mischief] = []
        self._emit = emit
        self._profile = speaker.table
        self._after = contact_after_answer
        self._on_completion = self._profile["commands"]["answered"] == "on completion"
        self._over = self._profile.get("moves", {}).get("over", "state")
        self._miss = self._profile.get("contact", {}).get("miss", "told")
        machine.alarm_on_miss = False
        self._waiting: deque[str] = deque()
        self._motion: Under | None = None
        self._dwell: tuple[float, int | None] | None = None
        self.motions = 0
        """How many motions have begun."""
        self._contact: Position | None = None
        self.starts = 1
        self._modal = Modal(machine)
        self._teller = Teller(machine, self._modal, speaker, emit)

    @property
    def modal(self) -> dict[str, str]:
        """The modal state that is in force."""
        return {**self._modal.words, "motion": self._modal.motion}

    # ---- time -----------------------------------------------------------------------------------------

    @property
    def _now(self) -> float:
        return self.machine.clock.now()

    def next_s(self) -> float:
        """Return the machine's time at which something is due of itself; infinite where nothing is."""
        due = [self._dwell[0]] if self._dwell is not None else []
        due += [at_s for at_s, _ in self._timed]
        if self._motion is not None:
            run = self._motion.run
            due.append(run.began + run.motion.end_s)
            due += [self._due(one) for one in self._pending()]
        return min(due, default=math.inf)

    def _pending(self) -> list[Mischief]:
        assert self._motion is not None
        return [one for one in self.mischief if one.motion == self._motion.ordinal]

    def _due(self, one: Mischief) -> float:
        assert self._motion is not None
        return self._motion.run.began + one.share * self._motion.run.nominal.end_s

    def tick(self) -> list[Mischief]:
        """Do what is due; return the mischief that is the link's to do."""
        link: list[Mischief] = []
        for entry in [entry for entry in self._timed if entry[0] <= self._now]:
            self._timed.remove(entry)
            link += self.misbehave(entry[1])
        while self._motion is not None:
            due = [one for one in self._pending() if self._due(one) <= self._now]
            for one in due:
                self.mischief.remove(one)
                link += self.misbehave(one)
            motion = self._motion
            if motion is None or self._now < motion.run.began + motion.run.motion.end_s - 1e-9:
                break
            self._end_motion(motion)
            self._go_on()
        if self._dwell is not None and self._now >= self._dwell[0]:
            (_, number), self._dwell = self._dwell, None
            if self._on_completion:
                self._teller.answer(number)
        self._go_on()
        return link

    # ---- what comes in --------------------------------------------------------------------------------

    def _next_once(self, what: str) -> Mischief | None:
        """Return the mischief of this kind that was kept for the next turn, and forget it."""
        found = next((one for one in self._once if one.what == what), None)
        if found is not None:
            found.times -= 1
            if found.times <= 0:
                self._once.remove(found)
        return found

    def put_off(self, one: Mischief) -> None:
        """Let something go wrong later, on the machine's clock."""
        self._timed.append((self._now + one.in_s, one))

    def receive(self, line: str) -> None:
        """Take one line."""
        self.truth.note(self._now, "line", text=line)
        if self._next_once("silence"):
            return
        if line.strip() == (self._profile.get("stop", {}).get("line") or object()):
            self.stop()
        elif len(self._waiting) >= MOST_WAITING:
            self._refuse(None, "full", "too many lines wait")
        else:
            self._waiting.append(line)
            self._go_on()

    def receive_byte(self, byte: int) -> bool:
        """Take one byte; return whether it is a request rather than part of a line."""
        if byte == (self._profile["state"].get("ask") or {}).get("byte"):
            if not self._next_once("silence"):
                self.tell_state()
        elif byte == self._profile.get("stop", {}).get("byte"):
            self.stop()
        elif byte == self._profile.get("clear", {}).get("byte"):
            self._clear()
        elif byte == (self._profile.get("contact", {}).get("ask") or {}).get("byte"):
            self._tell_contact()
        else:
            return False
        return True

    def _go_on(self) -> None:
        while self._waiting and self._motion is None and self._dwell is None:
            self._carry_out(self._waiting.popleft())

    def _carry_out(self, line: str) -> None:
        number, bare = _line_number(line)
        if self._question(number, bare.strip()):
            return
        try:
            if self._next_once("refuse"):
                raise BadBlock("not-now", "refused on request")
            if self.machine.alarm:
                raise BadBlock("barred", f"barred: {self.machine.alarm}")
            if bare.strip() == self._profile.get("home", {}).get("line"):
                self._home(number)
                return
            self._obey(read_block(line))
        except BadBlock as error:
            self._refuse(number, error.code, error.detail)
        except AlarmActive as error:
            self._refuse(number, "barred", error.detail)
        except ControllerRefused as error:
            self._refuse(number, (error.code or "no").replace(" ", "-"), error.detail)

    def _question(self, number: int | None, line: str) -> bool:
        """Answer a line of the profile's own; return whether it was one."""
        profile = self._profile
        state, contact = profile["state"].get("ask") or {}, profile.get("contact", {}).get("ask") or {}
        offsets = profile.get("offsets", {}).get("ask") or {}
        if line == state.get("line"):
            self._asked(state, number, self.tell_state)
        elif line == contact.get("line"):
            self._asked(contact, number, self._tell_contact)
        elif line == profile.get("clear", {}).get("line"):
            self._clear()
        else:
            for offset in range(1, 10):
                words = {"{offset}": str(offset), "{system}": f"G{GROUPS['system'][offset - 1]}"}
                spelled = offsets.get("line", "")
                for word, stands_for in words.items():
                    spelled = spelled.replace(word, stands_for)
                if line == spelled:
                    self._asked(offsets, number, lambda offset=offset: self._teller.offset(offset))  # type: ignore[misc]
                    return True
            return False
        return True

    def _asked(self, ask: Mapping[str, Any], number: int | None, tell: Callable[[], None]) -> None:
        tell()
        if ask.get("answered"):
            self._teller.say("accepted", number=number)

    # ---- obeying --------------------------------------------------------------------------------------

    def _obey(self, block: Block) -> None:
        modal, other = self._modal, block.g.get("other", "")
        modal.check(block)
        modal.take(block)
        if other == "4":
            self._dwell = (self._now + block.words.get("P", 0.0), block.number)
            if not self._on_completion:
                self._teller.answer(block.number)
            return
        if other == "10":
            self._set_offset(block)
        elif other.startswith("92"):
            modal.shift(block, other)
        else:
            modal.motion = block.g.get("motion", modal.motion)
            if block.axes:
                self._move(block, absolute=other == "53")
                return
        self._teller.answer(block.number)

    def _move(self, block: Block, *, absolute: bool) -> None:
        modal = self._modal
        target = modal.target(block.axes, absolute=absolute)
        senses = modal.motion == "38.2"
        feed = None if modal.motion == "0" else modal.feed
        if senses and modal.words["feed mode"] == "93":
            raise BadBlock("feed", "no probing in inverse time")
        if feed is not None and feed <= 0.0:
            raise BadBlock("feed", "no feed is in force")
        short = self._next_once("stops short")
        if short is not None:
            here = self.machine.position
            target = here.towards(target, max(0.0, here.distance(target) - short.amount))
        self._launch(target, feed, block.number, senses=senses)

    def _home(self, number: int | None) -> None:
        """Rise to the switch of Z; those of X and Y are wherever this machine stands."""
        self.machine.homed = True
        here = self.machine.position
        self._launch(here._replace(z=self.machine.facts.envelope.high.z), None, number, senses=False)

    def _launch(self, target: Position, feed: float | None, number: int | None, *, senses: bool) -> None:
        run = self.machine.launch(SENSE if senses else TRAVERSE, target, feed)
        self.motions += 1
        self._motion = Under(run, number, senses, self.motions)
        self.truth.note(
            self._now,
            "motion",
            kind=run.kind,
            ordinal=self.motions,
            start=list(run.start),
            target=list(target),
            feed=feed,
            closed_at_start=run.closed_at_start,
        )
        if not self._on_completion:
            self._teller.answer(number)

    def _end_motion(self, motion: Under) -> None:
        run, machine = motion.run, self.machine
        machine.settle()
        if machine.run is run:
            machine.finish(run)
        self._motion = None
        self._note_end(motion)
        if motion.stopped:
            return
        if motion.senses:
            self._end_sense(motion)
        elif self._on_completion:
            self._teller.answer(motion.number)
        if self._over == "done" and not (motion.senses and machine.alarm):
            self._teller.say("done", number=motion.number)

    def _note_end(self, motion: Under) -> None:
        made = self.machine.runs[-1]
        self.truth.note(
            self._now,
            "rest",
            ordinal=motion.ordinal,
            kind=made.kind,
            start=list(made.start),
            end=list(made.end),
            closed_at_start=made.closed_at_start,
            closed_at_end=made.closed_at_end,
            deepened=made.deepened,
            stopped=motion.stopped,
            penetration=self.machine.deepest,
        )

    def _end_sense(self, motion: Under) -> None:
        run, machine = motion.run, self.machine
        met = run.seen_s < math.inf
        self._contact = machine.latched(run) if met else None
        if not met and self._miss == "alarm":
            machine.alarm = "no contact"
            code = (self._profile.get("contact", {}).get("miss_codes") or ["no-contact"])[0]
            self._teller.say("alarm", code=code, detail="no contact")
            return
        if not met and self._miss == "refused":
            self._refuse(motion.number, self._profile["contact"]["miss_codes"][0], "no contact")
            return
        asked = self._profile.get("contact", {}).get("ask")
        if self._on_completion and self._after:
            self._teller.answer(motion.number)
        if not asked:
            self._teller.contact(self._contact, motion.number)
        if self._on_completion and not self._after:
            self._teller.answer(motion.number)

    def _set_offset(self, block: Block) -> None:
        if block.words.get("L") != 2.0 or block.words.get("P") not in tuple(float(n) for n in range(1, 10)):
            raise BadBlock("offset", "G10 needs L2 and P1 to P9")
        number = int(block.words["P"])
        values = self._modal.lengths(block)
        for one in [one for one in self.mischief if one.what in ON_WRITES]:
            if one.strikes("write"):
                first = next(iter(values))
                values = {} if one.what == "write ignored" else values | {first: values[first] + one.amount}
        self.machine.write(number, values)
        self.truth.note(self._now, "offset", number=number, stands=list(self.machine.offsets[number]))

    # ---- saying ---------------------------------------------------------------------------------------

    def _refuse(self, number: int | None, code: str, detail: str) -> None:
        self.truth.note(self._now, "refused", code=code, detail=detail)
        self._teller.say("refused", number=number, code=code, detail=detail)

    def greet(self) -> None:
        """Say that the controller has started."""
        self._teller.say("greeting", restarts=self.starts)

    def tell_state(self) -> None:
        """Say the state."""
        moving = self._motion is not None
        self._teller.state(busy=moving or self._dwell is not None, moving=moving, starts=self.starts)

    def _tell_contact(self) -> None:
        self._teller.contact(self._contact)

    # ---- what happens to it ---------------------------------------------------------------------------

    def stop(self) -> None:
        """Brake at once, and forget every line that waits."""
        self.truth.note(self._now, "stop", moving=self._motion is not None)
        self._waiting.clear()
        self._once = [one for one in self._once if one.what != "silence"]
        self._dwell = None
        if self._motion is not None:
            self._motion.stopped = True
            self.machine.stop()
        if self._profile.get("stop", {}).get("effect") == "restarts":
            self.restart(keeps_place=True)

    def press_stop(self) -> None:
        """Brake at once and bar the machine, as the machine's own stop makes it do, and say so."""
        self.stop()
        self.machine.alarm = "emergency stop pressed"
        self._teller.say("alarm", code="stop-pressed", detail=self.machine.alarm)

    def restart(self, *, keeps_place: bool = False) -> None:
        """Start again, as after a reset: axes stop dead, the modal state is gone, work offsets are kept."""
        motion, self._motion = self._motion, None
        homed, alarm = self.machine.homed, self.machine.alarm
        suffer(self.machine, Happening(what=What.RESTART, time_s=0.0))
        if keeps_place:
            self.machine.homed, self.machine.alarm = homed, alarm
        if motion is not None:
            motion.stopped = True
            self._note_end(motion)
        self._waiting.clear()
        self._dwell = None
        self.starts += 1
        self._modal = Modal(self.machine)
        self._teller = Teller(self.machine, self._modal, self.speaker, self._emit)
        self.truth.note(self._now, "restart")
        self.greet()

    def _clear(self) -> None:
        self.truth.note(self._now, "clear")
        self.machine.alarm = ""

    def misbehave(self, one: Mischief) -> list[Mischief]:
        """Let something go wrong now; return it where it is the link's to do."""
        self.truth.note(self._now, "mischief", what=one.what)
        wiring = self.machine.wiring
        match one.what:
            case "reset":
                self.restart()
            case "hang up":
                return [one]
            case "stuck closed":
                wiring.lead_on = wiring.bridged = True
            case "stuck open":
                wiring.lead_on = False
            case "silence" | "refuse" | "stops short":
                self._once.append(one)
            case "unstick":
                wiring.lead_on, wiring.bridged = True, False
            case _:
                # When it happens is decided here; the virtual machine only asks that some moment be named.
                plain = {"what": one.what, "amount": one.amount, "detail": one.detail, "time_s": 0.0}
                suffer(self.machine, Happening.from_plain(plain))
        if self._motion is not None and self.machine.run is self._motion.run and not self.machine.alarm:
            self.machine.plan_again(self._motion.run)  # under an alarm it brakes, whatever else has changed
        return []


def _line_number(line: str) -> tuple[int | None, str]:
    """Return the line number in front of a line, and the rest."""
    bare = line.lstrip(" \t")
    if bare[:1] not in ("N", "n"):
        return None, line
    end = 1
    while end < len(bare) and bare[end].isdigit():
        end += 1
    return (int(bare[1:end]) if 1 < end <= 6 else None), bare[end:]
