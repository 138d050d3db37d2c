"""The wire profile: how one controller answers, as data.

A profile is a TOML file. It may come from a stranger, so it holds no code and no regular expressions, and what
it may send is checked: one control byte, or one short line that the open RS274/NGC report does not read as a
motion. Every key is described where it is defined below; a key that is not is refused. `gingerly profile check`
shows what a profile makes of a recorded exchange.
"""

from __future__ import annotations

import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

from gingerly_serial.grammar import PatternError, compile_pattern
from gingerly_serial.profile_words import complaint
from gingerly_serial.why import why

Units = Literal["mm", "inch", "as set"]
"""What lengths are told in; ``as set`` follows the field `units` of the state, or millimetres."""

Frame = Literal["machine", "work"]
"""Whether positions are told in machine coordinates or in the work system that is in force."""

Means = Literal[
    "greeting", "accepted", "done", "refused", "alarm", "state", "contact", "missed", "offset", "end", "nothing"
]
"""What a reply can mean. ``nothing``: known, and of no interest."""

NUMBERS = frozenset(
    {f"{of}{axis}" for of in ("", "origin_", "shift_") for axis in "xyz"}
    | {"tool_length", "rotation_deg", "override", "spindle_speed"}
)
"""Fields that are numbers whatever a form calls them."""

WHOLES = frozenset({"number", "restarts"})
"""Fields that are whole numbers."""

WORDS = frozenset(
    {"mode", "circuit", "spindle", "homed", "alarm", "success", "flags"}
    | {"units", "system", "offset", "code", "detail"}
)
"""Fields that are words, or text."""

FIELDS = NUMBERS | WHOLES | WORDS
"""The fields of a reply.

`x y z` a position · `origin_…` the origin of the work system in force · `shift_…` an origin shift on top of it ·
`tool_length` · `rotation_deg` degrees · `override` percent · `units`, `mode`, `circuit`, `spindle`, `homed`,
`success`, `alarm` words, see `Words` · `spindle_speed` 0 means still · `system` a number 1–9 or a word like G54 ·
`flags` letters, see `Flags` · `restarts` how often the controller has started · `number` the line number answered ·
`code`, `detail` of a refusal or alarm · `offset` which work offset (1–9, or a word like G54).
"""

# What a profile may say at the most: our own choice, so that nothing in it can be endless.
Small = Annotated[int, Meta(ge=1, le=255)]
Seconds = Annotated[float, Meta(ge=0.0, le=600.0)]
Text = Annotated[str, Meta(min_length=1, max_length=64)]
WordList = Annotated[list[Text], Meta(max_length=32)]
Pattern = Annotated[str, Meta(min_length=1, max_length=512)]


class Part(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A table of a profile."""


class Line(Part, frozen=True):
    """``[line]``: `ending` ends each line sent; lines heard may end in CR, LF or both, and a longer one than
    `longest` characters is thrown away; `decimals` are written in coordinates. Left out, they are
    our own choice."""

    ending: Literal["lf", "cr", "crlf"] = "lf"
    longest: Annotated[int, Meta(ge=16, le=4096)] = 512
    decimals: Annotated[int, Meta(ge=2, le=6)] = 4


class Opening(Part, frozen=True):
    """``[opening]``: with `restarts`, opening the port restarts the controller; its greeting is then waited for, or,
    without one, `wait_s` seconds. That it does is the careful guess; the time is our own choice."""

    restarts: bool = True
    wait_s: Seconds = 3.0


class Commands(Part, frozen=True):
    """``[commands]``: whether a command is answered when it is taken or when it has been carried out; with
    `numbered` a line number is sent with each, and answers bring it back in the field `number`."""

    answered: Literal["on receipt", "on completion"]
    numbered: bool = False


class Ask(Part, frozen=True):
    """How something is asked for: a real-time `byte`, or a `line` (in which ``{offset}`` stands for 1–9 and
    ``{system}`` for G54–G59.3); `answered` says that the line also gets the answer that commands get."""

    byte: Small | None = None
    line: Text | None = None
    answered: bool = False


class Motion(Part, frozen=True):
    """``[moves]``: how the end of a move is known: by the command's answer (answered on completion), by a reply
    that means ``done``, or from the state alone. `begins_s` is how long a move may take to begin, our
    own choice."""

    over: Literal["answer", "done", "state"] = "state"
    begins_s: Seconds = 0.5


class State(Part, frozen=True):
    """``[state]``: `ask` for it, or it is told `every_s` seconds unasked; `while_moving` says that it is told
    during a move too. `coordinates`, `units` and, for work coordinates, the `system` (1–9) that is selected.
    `spindle` says whether its state is measured or only what was commanded. `absent` gives the value of fields
    left out."""

    ask: Ask | None = None
    every_s: Seconds | None = None
    while_moving: bool = True
    coordinates: Frame = "machine"
    units: Units = "mm"
    system: Annotated[int, Meta(ge=1, le=9)] = 1
    spindle: Literal["measured", "commanded"] = "commanded"
    absent: dict[Text, Text] = {}


class ContactReport(Part, frozen=True):
    """``[contact]``: a contact is told by itself, or asked for with `ask` once the move is over. `miss` says how a
    sense without contact shows: a reply ``missed`` (or a contact whose `success` says no), a refusal, or an alarm,
    with one of `miss_codes` where they are given. `sense` says how the probe's target is written."""

    ask: Ask | None = None
    coordinates: Frame = "machine"
    units: Units = "mm"
    miss: Literal["told", "refused", "alarm"] = "told"
    miss_codes: WordList = []
    sense: Literal["relative", "work"] = "relative"


class Offsets(Part, frozen=True):
    """``[offsets]``: how one work offset is asked for; without `ask` they cannot be read back. `step` is the step
    in which the controller keeps them, in mm: three decimals are common practice, no source."""

    ask: Ask | None = None
    units: Units = "mm"
    step: Annotated[float, Meta(ge=0.0, le=1.0)] = 0.001


class Stop(Part, frozen=True):
    """``[stop]``: the real-time `byte` (or `line`) that stops motion, and what it does: the machine brakes and
    knows its position, or the controller restarts."""

    byte: Small | None = None
    line: Text | None = None
    effect: Literal["brakes", "restarts"] = "brakes"


class Clear(Part, frozen=True):
    """``[clear]``: what clears an alarm. Only ever sent when a person says so."""

    byte: Small | None = None
    line: Text | None = None


class Homing(Part, frozen=True):
    """``[home]``: the `line` that sends every axis to its switches, and how long that may take, in seconds.

    It moves the machine, so it is only ever sent when a person says so. Two minutes are our own choice.
    """

    line: Text | None = None
    within_s: Annotated[float, Meta(gt=0.0, le=600.0)] = 120.0


class Words(Part, frozen=True):
    """``[words]``: which words in a field mean what. Case counts; a word not listed means nothing known."""

    mode: dict[Literal["resting", "moving", "alarm"], WordList] = {}
    circuit: dict[Literal["open", "closed"], WordList] = {}
    spindle: dict[Literal["still", "turning"], WordList] = {}
    homed: dict[Literal["yes", "no"], WordList] = {}
    units: dict[Literal["mm", "inch"], WordList] = {}
    success: dict[Literal["yes", "no"], WordList] = {}
    alarm: dict[Literal["none"], WordList] = {}


Letter = Annotated[str, Meta(min_length=1, max_length=1)]


class Flags(Part, frozen=True):
    """``[flags]``: single letters in the field `flags`; present they mean a closed circuit, an alarm, a homed
    machine, a turning spindle; absent the opposite."""

    closed: Letter | None = None
    alarm: Letter | None = None
    homed: Letter | None = None
    turning: Letter | None = None


class Form(Part, frozen=True):
    """One ``[[reply]]``: what it `means`, and one way in which it looks.

    `text` is a pattern. `pieces` are patterns for the parts of a line that begins with `start`, ends with `end` and
    is cut at `between`; they may come in any order, unknown ones are passed over, unless `ordered`. `json` names
    keys that an object must have, with their values, and `fields` where each field is found in it (a path such as
    ``at/0``). With `more` further lines of the same reply follow, up to one without it or one that means ``end``.
    """

    means: Means
    text: Pattern | None = None
    start: str = ""
    between: Text | None = None
    pieces: Annotated[list[Pattern], Meta(max_length=40)] | None = None
    ordered: bool = False
    end: str = ""
    json: dict[Text, str | int | bool] | None = None
    fields: dict[Text, Text] = {}
    more: bool = False


class Profile(Part, frozen=True, kw_only=True):
    """A whole wire profile. `name` and `about` are for people."""

    name: Text
    about: str = ""
    line: Line = Line()
    opening: Opening = Opening()
    commands: Commands
    moves: Motion = Motion()
    state: State
    contact: ContactReport = ContactReport()
    offsets: Offsets = Offsets()
    stop: Stop
    clear: Clear = Clear()
    home: Homing = Homing()
    words: Words = Words()
    flags: Flags = Flags()
    reply: Annotated[list[Form], Meta(min_length=1, max_length=64)]

    def told(self, means: str) -> frozenset[str]:
        """Return the fields that replies of this meaning can bring."""
        found: set[str] = set()
        for form in self.reply:
            if form.means == means:
                found |= form_fields(form)
        return frozenset(found)

    def means(self, means: str) -> bool:
        """Return whether any reply has this meaning."""
        return any(form.means == means for form in self.reply)


class ProfileError(ValueError):
    """A profile that cannot be used; the message names the file and the key."""


def form_fields(form: Form) -> frozenset[str]:
    """Return the names of the fields that one form of a reply can bring."""
    if form.json is not None:
        return frozenset(form.fields)
    patterns = [form.text] if form.text is not None else form.pieces or []
    return frozenset(field.name for pattern in patterns for field in compile_pattern(pattern, known=FIELDS).fields)


def load(source: str | Path) -> Profile:
    """Return the profile in a file, or the one that ships under the name ``practice``.

    Raises `ProfileError` for a file that cannot be read or is not a usable profile.
    """
    if source == "practice":
        return parse(files("gingerly_serial").joinpath("profiles/practice.toml").read_text("utf-8"), "practice")
    path = Path(source)
    try:
        text = path.read_bytes().decode("utf-8")
    except (OSError, ValueError) as error:
        raise ProfileError(f"the profile {str(source)!r} cannot be read: {why(error)}") from error
    return parse(text, str(source))


def parse(text: str, name: str = "profile") -> Profile:
    """Return the profile that a TOML text describes; raises `ProfileError`, which begins with `name`."""
    # Here and not above: the checks know the profile's classes.
    from gingerly_serial.profile_check import objections

    try:
        raw: dict[str, Any] = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ProfileError(f"{name}: this is not TOML: {error}") from error
    try:
        profile = msgspec.convert(raw, Profile)
    except (msgspec.ValidationError, RecursionError) as error:
        raise ProfileError(f"{name}: {complaint(error, Profile)}") from error
    try:
        found = objections(profile)
    except PatternError as error:
        raise ProfileError(f"{name}: {error}") from error
    if found:
        raise ProfileError(f"{name}: " + "; ".join(found))
    return profile
