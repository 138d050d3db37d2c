"""A recorded exchange, replayed through a profile: what each line was taken for. Moves nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from gingerly.geometry import Position
from gingerly.messages.snapshot import Circuit
from gingerly_serial.grammar import Fields
from gingerly_serial.hearing import Ear
from gingerly_serial.options import can_watch, told_by
from gingerly_serial.profile import Ask, Clear, Profile, Stop
from gingerly_serial.report import Gatherer, Report, inches, position, state
from gingerly_serial.transcript import Entry, read

WIDTH = 60
"""Characters of a line that are shown. Our own choice."""

IN_FORCE = (
    ("an origin shift", "shift_x"),
    ("a tool length offset", "tool_length"),
    ("the feed override", "override"),
    ("a rotation", "rotation_deg"),
)
"""What may be in force, and the field that tells it; what is not told, the person is asked for at the run."""


@dataclass(frozen=True, slots=True)
class Told:
    """One line of the check: the text, and whether something was not understood."""

    text: str
    strange: bool = False


def summary(profile: Profile) -> Iterator[str]:
    """Yield what a machine behind this profile can tell, and what it cannot."""
    facts = told_by(profile)
    yield f"profile {profile.name!r} is usable"
    told = (
        ("circuit_known", "whether the circuit is closed"),
        ("alarm_known", "whether an alarm stands"),
        ("offsets_readable", "its work offsets"),
    )
    for name, what in told:
        yield f"  it {'tells' if facts[name] else 'CANNOT tell'} {what}"
    yield f"  spindle: {facts['spindle'].value}"
    yield f"  the circuit can {'be watched' if can_watch(profile) else 'NOT be watched'} during a traverse"
    seen = profile.told("state") | (profile.told("greeting") if profile.means("greeting") else frozenset())
    for what, name in IN_FORCE:
        yield f"  it {'tells' if name in seen else 'CANNOT tell'} {what}"
    if "homed" not in seen and not _flagged(profile):
        yield "  it CANNOT tell homing: see that the machine is homed before you trust a run"
    if "restarts" not in seen and not profile.means("greeting"):
        yield "  it CANNOT tell restarts: after one, touch everything again"
    yield from _sent(profile)


def _flagged(profile: Profile) -> bool:
    return profile.flags.homed is not None


def _sent(profile: Profile) -> Iterator[str]:
    """Yield what this profile sends of its own, for a person to look up."""
    yield "besides plain RS274/NGC it has the program send this, and nothing else; look each of them up in the manual:"
    yield "only what homes may move the machine"
    ours: tuple[tuple[str, Ask | Stop | Clear | None], ...] = (
        ("at every look", profile.state.ask),
        ("after a contact", profile.contact.ask),
        ("to read an offset", profile.offsets.ask),
        ("to stop", profile.stop),
        ("to clear an alarm, only when a person says so", profile.clear),
    )
    for when, what in ours:
        if what is not None and (what.byte is not None or what.line is not None):
            yield f"  {when}: {what.line if what.line is not None else f'<{what.byte:02X}>'}"
    if profile.home.line is not None:
        yield f"  to home, which MOVES the machine, only when a person says so: {profile.home.line}"


def replay(profile: Profile, transcript: str | Path) -> Iterator[Told]:
    """Yield, for each entry of a transcript, what it was taken for; raises `OSError` or `ValueError`."""
    ear, gatherer = Ear(profile), Gatherer()
    for entry in read(transcript):
        if entry.way == "heard":
            yield _heard(profile, ear, gatherer, entry)
        else:
            yield Told(f"{entry.at_s:10.3f}  {entry.way:5}  {_shown(entry.data)}")


def _heard(profile: Profile, ear: Ear, gatherer: Gatherer, entry: Entry) -> Told:
    heard = ear.understand(entry.data)
    line = f"{entry.at_s:10.3f}  heard  {_shown(entry.data)}"
    if heard is None:
        return Told(f"{line}\n{'':19}NOT UNDERSTOOD", strange=True)
    whole = gatherer.take(heard)
    if whole is None:
        return Told(f"{line}\n{'':19}part of a {heard.means}")
    if whole.means == "state":
        report = state(profile, whole.fields)
        if report is None:
            return Told(f"{line}\n{'':19}a state WITHOUT a position", strange=True)
        return Told(f"{line}\n{'':19}state: {_told(profile, report)}")
    return Told(f"{line}\n{'':19}{whole.means}{_fields(profile, whole.means, whole.fields)}")


def _fields(profile: Profile, means: str, fields: Fields) -> str:
    units = {"contact": profile.contact.units, "offset": profile.offsets.units}.get(means, "mm")
    at = position(fields, inch=inches(profile, units, fields))
    rest = ", ".join(f"{name} {value}" for name, value in fields.items() if at is None or name not in "xyz")
    parts = ([rest] if rest else []) + ([_place(at)] if at is not None else [])
    return ": " + ", ".join(parts) if parts else ""


def _told(profile: Profile, report: Report) -> str:
    words = [f"{_place(report.at)} ({profile.state.coordinates})"]
    words.append({True: "at rest", False: "moving", None: "moving or not is untold"}[report.resting])
    words.append(
        {Circuit.OPEN: "circuit open", Circuit.CLOSED: "circuit closed", None: "circuit untold"}[report.circuit]
    )
    words.append(f"spindle {report.spindle.value}" if report.spindle is not None else "spindle untold")
    words.append({True: f"ALARM {report.alarm_detail}", False: "no alarm", None: "alarm untold"}[report.alarm])
    words.append({True: "homed", False: "NOT homed", None: "homing untold"}[report.homed])
    if report.in_force is not None:
        words.extend(report.in_force.oddities() or ("nothing odd in force",))
    return ", ".join(words)


def _place(at: Position) -> str:
    return f"{at} mm"


def _shown(data: bytes) -> str:
    text = data.decode("ascii", "replace")
    if not text.isprintable():
        text = " ".join(f"<{byte:02X}>" if not 32 <= byte < 127 else chr(byte) for byte in data)
    return text if len(text) <= WIDTH else text[: WIDTH - 1] + "…"
