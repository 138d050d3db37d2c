"""`gingerly check`: the whole plan of a job, without any motion.

``--json`` prints one document; its keys are stable. Lengths are in mm, feeds in mm/min, times in seconds,
without what people take:

- ``format`` (1), ``job`` (``title``, ``source``), ``machine`` (``name``, ``adapter``, ``model``, ``connected``,
  ``simulated``, ``envelope``, ``guard``, ``home``), ``exit_code`` (0, or 3 where a part would be refused),
  ``machine_time_s``
- ``parts``, one for each part: ``name``, ``routine``, ``tool``, ``plate``, ``wave``, ``machine_time_s``, ``steps``
  (what the operator is asked for before it), ``circuit`` (where it is proved), ``touches``, ``limits`` (which limit
  chose which number, a sentence each), ``room`` (``envelope``, and ``keep_outs`` by name), ``start_window``,
  ``uncertainty`` (by axis or size: ``half_width`` in mm or rad, ``probability``, ``most_of_it``), ``offsets``,
  ``objection`` (as a fault of `gingerly run --json`)
- each of ``touches``: ``name``, ``window`` (from, to), ``push_if_lead_is_off``, ``contacts``, ``machine_time_s``,
  ``question``, ``moves`` (``purpose``, ``from``, ``to``, ``feed``: null for the fastest, ``senses``, ``time_s``)
- each of ``offsets``: ``number``, ``before`` (null where the machine was not asked), ``relative``
"""

from __future__ import annotations

import argparse
import json
import textwrap
from collections.abc import Iterator
from typing import Any

from gingerly import job as jobs
from gingerly.batch import connect
from gingerly.cli.columns import WIDTH, tell
from gingerly.cli.interrupt import Interrupts
from gingerly.cli.session import operate
from gingerly.cli.table import clock
from gingerly.driver.adapter import Simulated
from gingerly.driver.machine import Machine
from gingerly.geometry import Box, Position
from gingerly.job import Job, Part
from gingerly.job.forecast import Forecast, PartForecast, TouchForecast, foresee, move_s
from gingerly.messages.facts import MachineFacts
from gingerly.report import DONE, REFUSED, fault_record
from gingerly.routines import StopTest
from gingerly.routines.preflight import ROOM, Move, widest

Offsets = dict[int, Position]


def run(arguments: argparse.Namespace) -> int:
    """Print the plan of a job, and return 3 where a part would be refused; moves nothing."""
    job = jobs.read(arguments.job)
    machine = connect(job)
    connected = arguments.connect or isinstance(machine.adapter, Simulated)
    before: Offsets = {}
    here = assumed_start(machine.facts, job.parts[0])
    if connected:
        with Interrupts() as interrupts:
            here, before = operate(machine, lambda: _asked(machine, job), interrupts)
    forecast = foresee(job, machine.facts, here)
    code = REFUSED if forecast.objections else DONE
    if arguments.json:
        document = as_document(forecast, machine, before, connected=connected, code=code)
        print(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False))
    else:
        for line in as_text(forecast, machine, before, connected=connected):
            print(line)
    if code == REFUSED:
        names = ", ".join(repr(part.name) for part, _ in forecast.objections[:12])
        tell(f"would be refused before anything moved: {names}.")
    return code


def assumed_start(facts: MachineFacts, part: Part) -> Position:
    """Return where the tool is taken to stand on a machine that nobody asked: at the top, in the middle (mm).

    For a stop test it is taken to be as low as that needs it.
    """
    low, high = facts.envelope.low, facts.envelope.high
    down = 2.0 * part.routine.height if isinstance(part.routine, StopTest) else 0.0
    return Position((low.x + high.x) / 2.0, (low.y + high.y) / 2.0, max(high.z - down, low.z))


async def _asked(machine: Machine, job: Job) -> tuple[Position, Offsets]:
    """Ask the machine where it stands and what its work offsets hold; moves nothing."""
    async with machine:
        here = (await machine.look()).position
        numbers = sorted({number for part in job.parts for number in part.offsets})
        readable = machine.facts.offsets_readable
        return here, {number: await machine.read_offset(number) for number in numbers if readable}


# ---- what is told of the room -------------------------------------------------------------------------------


def envelope_room(part: PartForecast, envelope: Box) -> float | None:
    """Return how near (mm) the part's moves come to the axis limits, or None where there are none."""
    points = [point for move in _moves(part) for point in (move.start, move.end)]
    rooms = [
        min(point[axis] - envelope.low[axis], envelope.high[axis] - point[axis])
        for point in points
        for axis in (0, 1)
    ]
    rooms += [point.z - envelope.low.z for point in points]
    return min(rooms, default=None)


def keep_out_rooms(part: PartForecast, job: Job) -> dict[str, float]:
    """Return how far (mm, seen from above) the tool's axis stays from each keep-out, by its name."""
    found = _moves(part)
    return {
        keep_out.name: min(keep_out.clearance(move.start, move.end) for move in found)
        for keep_out in job.keep_outs
        if found
    }


def start_window(part: PartForecast) -> str:
    """Return where the first approach may begin, in words."""
    spot = part.part.spot
    if isinstance(part.part.routine, StopTest):
        return f"where the tool stands, {2.0 * part.part.routine.height:g} mm below the top of Z at least"
    if part.part.here:
        room = ""
        if spot.plate is not None:
            window = spot.plate.spot_window(spot.placement, spot.corner, spot.edge(), spot.stock)
            room = f", within {window.margin(*window.middle()):.1f} mm of the middle of the flat"
        return f"where the tool is brought to{room}"
    return f"the place is known within {spot.within:g} mm"


def _moves(part: PartForecast) -> list[Move]:
    return [move for touch in part.touches for move in touch.moves]


# ---- as text ------------------------------------------------------------------------------------------------


def as_text(forecast: Forecast, machine: Machine, before: Offsets, *, connected: bool) -> Iterator[str]:
    """Yield the plan as lines of at most 80 columns."""
    job, facts = forecast.job, forecast.facts
    count = f"{len(job.parts)} part{'s' if len(job.parts) > 1 else ''}"
    simulated = isinstance(machine.adapter, Simulated)
    virtual = ", virtual" if simulated and "virtual" not in facts.name else ""
    asked = "it was asked where it stands" if connected else "it was not asked anything; --connect asks it"
    spent = f"about {clock(forecast.duration_s)} of machine time, besides what people take"
    yield from _wrapped(f"{job.title}: {count}, {spent}. Nothing moves.")
    yield from _wrapped(f"{machine.name} ({facts.name}{virtual}): {asked}")
    low, high = facts.envelope.low, facts.envelope.high
    yield f"  envelope {low} to {high}"
    yield f"  guard of the circuit during a traverse: {facts.guard.value}; home: {facts.home.value}"
    for number, part in enumerate(forecast.parts, 1):
        yield ""
        yield from _part(part, f"{number}/{len(job.parts)}", forecast, before, connected=connected)


def _part(
    part: PartForecast, number: str, forecast: Forecast, before: Offsets, *, connected: bool
) -> Iterator[str]:
    spot = part.part.spot
    plate = f"plate {spot.plate.name}, {spot.placement.value}" if spot.plate is not None else "bare stock"
    where = "free air" if isinstance(part.part.routine, StopTest) else f"{plate}, {spot.corner.label} corner"
    wave = f", wave {part.part.wave}" if len(forecast.job.waves) > 1 else ""
    yield from _wrapped(
        f"{number} {part.part.name}: {part.part.kind}, {part.part.tool.name}, {where}"
        f"{wave}; {clock(part.duration_s)}"
    )
    if part.part.say:
        yield from _wrapped(f"  say: {part.part.say}")
    if part.steps:
        yield f"  the operator first: {', '.join(step.value for step in part.steps)}"
    if part.objection is not None:
        yield from _wrapped(f"  REFUSED, {part.objection.name}: {part.objection.detail}")
        yield from _wrapped(f"  check first: {part.objection.advice}")
        return
    yield f"  circuit proved at: {', '.join(place.value for place in part.places)}"
    yield from _wrapped(f"  start: {start_window(part)}")
    for touch in part.touches:
        yield from _touch(touch, forecast.facts, part)
    limits = dict.fromkeys(limit for touch in part.touches for limit in touch.limited_by)
    for limit in limits:
        yield from _wrapped(f"  {limit}")
    yield from _room(part, forecast)
    for name, statement in part.statements().items():
        unit = "rad" if name == "rotation" else "mm"
        yield from _wrapped(
            f"  {name} known within ± {statement.half_width:.4f} {unit} at 95 %, most of it: {statement.rules}"
        )
    yield from _offsets(part, before, connected=connected)


def _touch(touch: TouchForecast, facts: MachineFacts, part: PartForecast) -> Iterator[str]:
    if touch.question is not None:
        yield f"  the operator: {touch.question.value}"
    for move in touch.moves:
        if move.start == move.end:
            continue  # it stands there already
        feed = "fastest" if move.feed is None else f"{move.feed:.0f}"
        yield f"  {move.purpose[:24]:<24} {move.end!s:<30} {feed:>8} {move_s(move, facts):>8.1f} s"
    near, far = touch.window
    bears = f"{part.part.tool.name} bears {part.part.tool.miss_limit:.2f} mm"
    contacts = f"{touch.contacts} contact{'s' if touch.contacts > 1 else ''}"
    yield f"    {contacts}, plausible from {near:.3f} to {far:.3f} mm on the way"
    if touch.push > 0.0:
        yield from _wrapped(f"    if the lead is off here, the tool pushes up to {touch.push:.2f} mm; {bears}")


def _room(part: PartForecast, forecast: Forecast) -> Iterator[str]:
    room = envelope_room(part, forecast.facts.envelope)
    if room is not None:
        yield f"  room to the axis limits: {room:.1f} mm"
    needed = widest(part.part.tool) + ROOM
    for name, aside in keep_out_rooms(part, forecast.job).items():
        how = f"{aside:.1f} mm" if aside > 0.0 else "passes over it"
        yield from _wrapped(f"  axis to keep-out {name!r}: {how}, at least {needed:.1f} mm beside it")


def _offsets(part: PartForecast, before: Offsets, *, connected: bool) -> Iterator[str]:
    for number in part.part.offsets:
        old = before.get(number)
        shifts = "would be shifted" if part.part.kind == "tool change" else "would be overwritten"
        unread = "cannot be read" if connected else "is not known while the machine is not connected"
        told = f"it holds {old}" if old is not None else f"what it holds {unread}"
        yield from _wrapped(f"  work offset {number} {shifts}; {told}")
    if not part.part.offsets:
        yield "  writes no work offset"


def _wrapped(line: str) -> list[str]:
    indent = " " * (len(line) - len(line.lstrip()))
    return textwrap.wrap(line, WIDTH, subsequent_indent=f"{indent}    ", break_long_words=True)


# ---- as a document ------------------------------------------------------------------------------------------


def as_document(
    forecast: Forecast, machine: Machine, before: Offsets, *, connected: bool, code: int
) -> dict[str, Any]:
    """Return the plan as plain data; see the module for its keys."""
    job, facts = forecast.job, forecast.facts
    return {
        "format": 1,
        "job": {"title": job.title, "source": job.source},
        "machine": {
            "name": machine.name,
            "adapter": job.machine.adapter,
            "model": facts.name,
            "connected": connected,
            "simulated": isinstance(machine.adapter, Simulated),
            "envelope": {"low": _xyz(facts.envelope.low), "high": _xyz(facts.envelope.high)},
            "guard": facts.guard.value,
            "home": facts.home.value,
        },
        "exit_code": code,
        "machine_time_s": round(forecast.duration_s, 3),
        "parts": [_part_document(part, forecast, before) for part in forecast.parts],
    }


def _part_document(part: PartForecast, forecast: Forecast, before: Offsets) -> dict[str, Any]:
    spot, room = part.part.spot, envelope_room(part, forecast.facts.envelope)
    return {
        "name": part.part.name,
        "routine": part.part.kind,
        "tool": part.part.tool.name,
        "plate": spot.plate.name if spot.plate is not None else None,
        "wave": part.part.wave,
        "machine_time_s": round(part.duration_s, 3),
        "steps": [step.value for step in part.steps],
        "circuit": [place.value for place in part.places],
        "touches": [_touch_document(touch, forecast.facts) for touch in part.touches],
        "limits": list(dict.fromkeys(limit for touch in part.touches for limit in touch.limited_by)),
        "room": {
            "envelope": None if room is None else round(room, 3),
            "keep_outs": {name: round(value, 3) for name, value in keep_out_rooms(part, forecast.job).items()},
        },
        "start_window": start_window(part),
        "uncertainty": {
            name: {"half_width": round(one.half_width, 6), "probability": one.probability, "most_of_it": one.rules}
            for name, one in part.statements().items()
        },
        "offsets": [
            {
                "number": number,
                "before": _xyz(before[number]) if number in before else None,
                "relative": part.part.kind == "tool change",
            }
            for number in part.part.offsets
        ],
        "objection": fault_record(part.objection) if part.objection is not None else None,
    }


def _touch_document(touch: TouchForecast, facts: MachineFacts) -> dict[str, Any]:
    return {
        "name": touch.name,
        "window": [round(value, 4) for value in touch.window],
        "push_if_lead_is_off": round(touch.push, 4),
        "contacts": touch.contacts,
        "machine_time_s": round(touch.duration_s, 3),
        "question": touch.question.value if touch.question is not None else None,
        "moves": [
            {
                "purpose": move.purpose,
                "from": _xyz(move.start),
                "to": _xyz(move.end),
                "feed": None if move.feed is None else round(move.feed, 3),
                "senses": move.senses,
                "time_s": round(move_s(move, facts), 3),
            }
            for move in touch.moves
        ],
    }


def _xyz(position: Position) -> dict[str, float]:
    return {name: round(value, 6) for name, value in zip("xyz", position, strict=True)}
