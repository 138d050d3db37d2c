"""Whatever comes in: no exception but the library's faults, no hang, bounded memory."""

from __future__ import annotations

import asyncio
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gingerly import Fault
from gingerly_serial import Profile, SerialAdapter
from gingerly_serial.grammar import PatternError, compile_pattern
from gingerly_serial.hearing import Ear
from gingerly_serial.ledger import MOST_OPEN, Ledger
from gingerly_serial.lines import LineSplitter
from gingerly_serial.practice.speaker import Speaker
from gingerly_serial.profile import ProfileError, load, parse
from support.practice import FACTS, SHAPES, profile_of

PROFILES: dict[str, Profile] = {shape: load(profile_of(shape)) for shape in SHAPES}
FIELDS = {
    **{prefix + axis: 12.5 for prefix in ("", "origin_", "shift_") for axis in "xyz"},
    "tool_length": 12.5,
    "override": 100.0,
    "rotation_deg": 0.0,
    "spindle_speed": 0.0,
    "number": 7,
    "restarts": 1,
    "offset": 2,
    "code": "31",
    "detail": "why",
    "flags": "h",
    "system": "G54",
    "success": "y",
}
MEANS = ("greeting", "accepted", "done", "refused", "alarm", "contact", "missed", "offset", "state")


def speaker_of(shape: str) -> Speaker:
    source = profile_of(shape)
    if source == "practice":
        import gingerly_serial

        source = str(Path(gingerly_serial.__file__).parent / "profiles" / "practice.toml")
    return Speaker(tomllib.loads(Path(source).read_text("utf-8")))


def proper_lines(shape: str) -> list[bytes]:
    """One line or more of every kind, as the practice controller says them."""
    speaker = speaker_of(shape)
    mode = {"mode": speaker.word("mode", "resting"), "circuit": speaker.word("circuit", "open")}
    said = [line for means in MEANS for line in speaker.say(means, {**FIELDS, **mode})]
    return [line.encode() for line in said]


LINES = {shape: proper_lines(shape) for shape in SHAPES}


@st.composite
def mutated(draw: st.DrawFn) -> tuple[str, bytes]:
    """A stream of proper lines with bytes changed, lost, doubled, and pieces of it moved."""
    shape = draw(st.sampled_from(SHAPES))
    stream = bytearray(b"\n".join(draw(st.lists(st.sampled_from(LINES[shape]), min_size=1, max_size=8))) + b"\n")
    for _ in range(draw(st.integers(0, 6))):
        at = draw(st.integers(0, len(stream)))
        cut = draw(st.integers(0, 3))
        stream[at : at + cut] = draw(st.binary(max_size=4))
    return shape, bytes(stream)


def take_in(shape: str, stream: bytes) -> Ledger:
    """Let a stream go all the way: into lines, into meanings, into the account of what was asked."""
    profile = PROFILES[shape]
    splitter, ear, ledger = LineSplitter(profile.line.longest), Ear(profile), Ledger(profile)
    ledger.order("G90", moves=True)
    ledger.request(0.0)
    for line in splitter.feed(stream):
        heard = ear.understand(line)
        if heard is not None:
            ledger.take(heard, 1.0)
    assert splitter.held <= profile.line.longest
    assert len(ledger.offsets) <= 10
    return ledger


@given(st.sampled_from(SHAPES), st.binary(max_size=2000))
def test_arbitrary_bytes_never_raise(shape: str, stream: bytes) -> None:
    """Noise means nothing, and takes no more memory than one line."""
    take_in(shape, stream)


@given(mutated())
def test_mutated_conversations_never_raise(case: tuple[str, bytes]) -> None:
    """A spoilt conversation is understood or not, line by line, and never more."""
    shape, stream = case
    ledger = take_in(shape, stream)
    assert ledger.latest is None or ledger.latest.at.is_finite()


@given(st.sampled_from(SHAPES), st.binary(max_size=300), st.lists(st.integers(1, 20), max_size=30))
def test_how_a_stream_is_cut_up_makes_no_difference(shape: str, noise: bytes, cuts: list[int]) -> None:
    """The same bytes in other pieces are the same lines."""
    stream = noise + b"\n" + b"\r\n".join(LINES[shape]) + b"\n"
    whole, pieces = LineSplitter(300), LineSplitter(300)
    lines, at = [], 0
    for cut in cuts:
        lines += pieces.feed(stream[at : at + cut])
        at += cut
    lines += pieces.feed(stream[at:])
    assert lines == list(whole.feed(stream))


@given(st.integers(16, 4096), st.integers(0, 100_000))
def test_line_without_an_end_is_thrown_away(longest: int, length: int) -> None:
    """A megabyte without a line end leaves one line's worth in memory, and the next line is heard again."""
    splitter = LineSplitter(longest)
    assert list(splitter.feed(b"x" * length)) == []
    assert splitter.held <= longest
    assert list(splitter.feed(b"\nnext\n"))[-1] == b"next"


@given(st.text(alphabet="{}:xyzabc ,number wholerest_*+?()[]|\\^$.", max_size=60), st.text(max_size=200))
def test_any_pattern_reads_any_line_in_one_pass(source: str, line: str) -> None:
    """A pattern is refused or matches; it never raises anything else, whatever the line."""
    try:
        pattern = compile_pattern(source)
    except PatternError:
        return
    pattern.match(line)


@given(
    st.dictionaries(st.text(max_size=8), st.recursive(st.none() | st.text() | st.integers(), st.lists), max_size=4)
)
def test_any_table_is_a_profile_or_a_sentence(table: dict[str, object]) -> None:
    """A file that is no profile gives a ProfileError with the file's name and nothing else."""
    text = "\n".join(f"{key!r} = {value!r}" for key, value in table.items())
    with pytest.raises(ProfileError, match=r"^mine\.toml"):
        parse(text, "mine.toml")


def test_hostile_pattern_takes_no_longer_than_its_line() -> None:
    """What makes a regular expression explode is one pass here: work grows with the line, not with its powers."""
    pattern = compile_pattern(" ".join("{_:word}" for _ in range(39)) + " !")
    for _ in range(200):
        assert pattern.match("a " * 2000) is None


def test_ledger_forgets_the_oldest_of_too_many() -> None:
    """Requests that are never answered do not pile up."""
    ledger = Ledger(PROFILES["practice"])
    for _ in range(10 * MOST_OPEN):
        ledger.order("G90")
        ledger.request(0.0)
    assert len(ledger._orders) == len(ledger._requests) == MOST_OPEN


@settings(max_examples=25)
@given(st.sampled_from(SHAPES), st.lists(st.binary(max_size=200) | mutated().map(lambda case: case[1]), max_size=6))
def test_adapter_before_a_mad_controller_raises_only_faults(shape: str, replies: list[bytes]) -> None:
    """Whatever answers every request: each call ends, and ends in one of the library's faults or well."""
    asyncio.run(_face(shape, replies))


async def _face(shape: str, replies: list[bytes]) -> None:
    left = list(replies)

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            while await reader.read(100):
                writer.write(left.pop(0) if left else LINES[shape][0] + b"\n")
        except ConnectionError:
            pass
        finally:
            writer.close()

    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    port = server.sockets[0].getsockname()[1]
    adapter = SerialAdapter(
        port=f"socket://127.0.0.1:{port}", profile=profile_of(shape), clock_scale=200.0, answer_s=2.0, **FACTS
    )
    async with server, asyncio.timeout(20.0):
        try:
            await adapter.open()
            await adapter.look()
            await adapter.read_offset(2)
        except Fault:
            pass
        finally:
            await adapter.close()
