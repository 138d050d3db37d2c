"""What makes a profile unusable although each of its keys is well formed. Pure; every objection is a sentence."""

from __future__ import annotations

from collections.abc import Iterator

from gingerly_serial.grammar import compile_pattern
from gingerly_serial.profile import FIELDS, Ask, Clear, Form, Profile, Stop, form_fields

POSITION = frozenset("xyz")
ORIGIN_FIELDS = frozenset({"origin_x", "origin_y", "origin_z"})
HIGHEST_REPORTED_M = 60
"""The open report defines M0 to M60; a question has no business being one of them."""


def objections(profile: Profile) -> list[str]:
    """Return everything that makes the profile unusable; raises `PatternError` for an unreadable pattern."""
    found: list[str] = []
    for at, form in enumerate(profile.reply, 1):
        found += (f"reply {at} ({form.means}): {said}" for said in _form(form))
    if not found:
        found += _requests(profile)
        found += _replies(profile)
        found += _contact(profile)
        found += _frames(profile)
    return found


def _form(form: Form) -> Iterator[str]:
    ways = [form.text is not None, form.pieces is not None, form.json is not None]
    if sum(ways) != 1:
        yield "give exactly one of text, pieces and json"
        return
    if form.pieces is not None and form.between is None:
        yield "pieces need between, what the line is cut at"
    if form.json is None and form.fields:
        yield "fields belong to json"
    if form.pieces is None and (form.start or form.end or form.between):
        yield "start, end and between belong to pieces"
    if not (form.start + form.end).isascii():
        yield "start and end may hold printable ASCII only"
    for name in form.fields:
        if name not in FIELDS:
            yield f"the field {name!r} is unknown; known are {', '.join(sorted(FIELDS))}"
    if form.text is not None:
        compile_pattern(form.text, known=FIELDS)
    for piece in form.pieces or ():
        compile_pattern(piece, known=FIELDS)


def _requests(profile: Profile) -> Iterator[str]:
    asks: list[tuple[str, Ask | Stop | Clear | None]] = [
        ("state.ask", profile.state.ask),
        ("contact.ask", profile.contact.ask),
        ("offsets.ask", profile.offsets.ask),
        ("stop", profile.stop),
    ]
    if profile.clear != Clear():
        asks.append(("clear", profile.clear))
    if profile.home.line is not None:
        yield from (f"home.line: {said}" for said in _line(profile.home.line))
    for where, ask in asks:
        if ask is None:
            continue
        if (ask.byte is None) == (ask.line is None):
            yield f"{where}: give either byte or line"
        elif ask.byte is not None:
            yield from (f"{where}.byte: {said}" for said in _byte(ask.byte))
        elif ask.line is not None:
            yield from (f"{where}.line: {said}" for said in _line(ask.line))
    if (profile.state.ask is None) == (profile.state.every_s is None):
        yield "state: give either ask, or every_s where it is told unasked"
    if profile.offsets.ask is not None and profile.offsets.ask.line is None:
        yield "offsets.ask: a byte cannot say which work offset; give a line with {offset} or {system}"
    elif profile.offsets.ask is not None and "{" not in (profile.offsets.ask.line or ""):
        yield "offsets.ask.line: say which one, with {offset} or {system}"


def _byte(byte: int) -> Iterator[str]:
    if byte in (10, 13):
        yield "a line ending cannot be a request"
    elif chr(byte).isascii() and chr(byte).isalnum():
        yield "a letter or a digit could become part of a command; use another byte"


def _line(line: str) -> Iterator[str]:
    """Yield what forbids a line of the profile's own: nothing that a controller could take for a motion."""
    bare = line.replace("{offset}", "").replace("{system}", "")
    if not bare.isascii() or not bare.isprintable() or "{" in bare or "}" in bare:
        yield "only printable ASCII may be sent, and only {offset} and {system} stand for something"
        return
    tokens = line.replace("{offset}", "1").replace("{system}", "").upper().split()
    for at, token in enumerate(tokens):
        # A letter that stands alone belongs to the number after the blank: blanks mean nothing in RS274/NGC.
        joined = token + tokens[at + 1] if len(token) == 1 and at + 1 < len(tokens) else token
        yield from _commands_in(joined)


def _commands_in(token: str) -> Iterator[str]:
    for letter, rest in ((token[at], token[at + 1 :]) for at in range(len(token))):
        if letter == "M" and rest[:1].isdigit():
            digits = rest[: len(rest) - len(rest.lstrip("0123456789"))]
            if int(digits) <= HIGHEST_REPORTED_M:
                yield f"M{digits} is a command of RS274/NGC, and a request may not be one"
        elif letter in "GXYZABCFST" and rest[:1] and rest[0] in "0123456789.+-[#":
            yield f"{letter}{rest[0]}… could be taken for a motion, and a request may not be one"


def _replies(profile: Profile) -> Iterator[str]:
    for means in ("accepted", "refused", "state"):
        if not profile.means(means):
            yield f"no reply means {means!r}"
    if not profile.told("state") >= POSITION:
        yield "no reply that means 'state' brings x, y and z"
    numbered = profile.commands.numbered
    if numbered and "number" not in profile.told("accepted") & profile.told("refused"):
        yield "commands.numbered: the replies 'accepted' and 'refused' must bring the field number"
    if profile.moves.over == "answer" and profile.commands.answered != "on completion":
        yield "moves.over: an answer on receipt does not tell that a move is over; use 'done' or 'state'"
    if profile.moves.over == "done" and not profile.means("done"):
        yield "moves.over: no reply means 'done'"
    if profile.moves.over == "state" and not _tells_mode(profile):
        yield "moves.over: the state must bring the field mode, with words.mode for resting and moving"
    if profile.moves.over == "state" and not profile.state.while_moving:
        yield "moves.over: the state is not told during a move, so it cannot tell that the move is over"
    if profile.offsets.ask is not None and not profile.told("offset") >= POSITION:
        yield "offsets.ask: no reply that means 'offset' brings x, y and z"
    for form in profile.reply:
        if form.more and form.means not in ("state", "offset"):
            yield "more: only a state or an offset can be told in several lines"


def _tells_mode(profile: Profile) -> bool:
    return "mode" in profile.told("state") and {"resting", "moving"} <= set(profile.words.mode)


def _contact(profile: Profile) -> Iterator[str]:
    if not profile.told("contact") >= POSITION:
        yield "no reply that means 'contact' brings x, y and z"
    flagged = "success" in profile.told("contact") and "no" in profile.words.success
    if profile.contact.miss == "told" and not (profile.means("missed") or flagged):
        yield "contact.miss: no reply means 'missed', and no contact brings success with words.success for no"
    if profile.contact.miss == "refused" and not profile.contact.miss_codes:
        yield "contact.miss_codes: with which code is a sense without contact refused?"
    if profile.contact.ask is not None and not (profile.means("missed") or flagged):
        yield "contact.ask: the answer must tell success, or a reply must mean 'missed'"
    if profile.contact.miss == "alarm" and not profile.means("alarm"):
        yield "contact.miss: no reply means 'alarm'"


def _frames(profile: Profile) -> Iterator[str]:
    origins = profile.told("state") >= ORIGIN_FIELDS
    asked = profile.offsets.ask is not None
    works = profile.state.coordinates == "work" or profile.contact.coordinates == "work"
    if (works or profile.contact.sense == "work") and not (origins or asked):
        yield "work coordinates need a known origin: tell offsets.ask, or the fields origin_x, origin_y, origin_z"
    lengthy = [profile.state.units, profile.contact.units, profile.offsets.units]
    if "as set" in lengthy and "units" in profile.told("state") and not profile.words.units:
        yield "words.units: which words mean mm and inch?"
    for form in profile.reply:
        if "circuit" in form_fields(form) and not {"open", "closed"} <= set(profile.words.circuit):
            yield "words.circuit: which words mean open and closed?"
