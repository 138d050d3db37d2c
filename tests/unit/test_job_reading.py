"""A sound job file says what it means; whatever is wrong with one is said where, what, and what would be right."""

from __future__ import annotations

import math
import os
import tomllib
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gingerly import Above, Corner, OutsideCorner, Position, Surface, ToolChange, Wishes
from gingerly import job as jobs
from gingerly.job import JobError, OnFault, Staged
from gingerly.job.parts import JobTable
from support.jobs import SOUND, complaints, sound, spoiled

# ---- what a sound file means ------------------------------------------------------------------------------


def test_parts_come_in_the_order_of_the_file_with_their_routines() -> None:
    assert [(part.name, part.kind, part.offsets) for part in sound().parts] == [
        ("pad", "reference", ()),
        ("lid 1", "outside corner", (1,)),
        ("lid 2", "surface", (2,)),
        ("cutter in", "tool change", (1, 2)),
    ]


def test_lengths_with_units_are_millimetres() -> None:
    """An inch is 25.4 mm exactly (international inch, 1959), so 1/8 in is 3.175 mm."""
    assert sound().parts[0].tool.diameter == pytest.approx(3.175, abs=1e-12)


def test_angles_in_degrees_become_radians() -> None:
    assert sound().parts[3].tool.helix == pytest.approx(math.pi / 6, abs=1e-12)


def test_defaults_hold_where_a_part_says_nothing_else() -> None:
    pad, lid, *_ = sound().parts
    assert (pad.spot.plate, lid.spot.plate and lid.spot.plate.name) == (None, "corner")
    assert (pad.spot.stock.size_x, lid.spot.stock.size_x) == (30.0, 80.0)
    assert lid.spot.corner is Corner.FRONT_LEFT


def test_touched_faces_read_what_the_file_says() -> None:
    routine = sound().parts[1].routine
    assert isinstance(routine, OutsideCorner)
    assert routine.reads == Position(0.0, 0.0, 0.5)


def test_a_tool_change_touches_the_very_face_that_it_compares_with() -> None:
    pad, *_, change = sound().parts
    assert isinstance(change.routine, ToolChange)
    assert change.spot.place == pad.spot.place
    assert change.spot.stock == pad.spot.stock
    assert change.tool.name == "cutter"


def test_a_part_may_record_its_origin_without_writing_it() -> None:
    job = jobs.loads(spoiled("offset = 2", 'offset = "record only"'))
    assert isinstance(job.parts[2].routine, Surface)
    assert job.parts[2].offsets == ()


def test_here_is_above_the_flat_by_the_height_that_is_said() -> None:
    text = spoiled("place = { x = 220, y = 150, z = -45 }", 'place = "here"\nheight = "6 mm"')
    text = text[: text.index('[[parts]]\nname = "cutter in"')]
    assert jobs.loads(text).parts[0].spot.place == Above(6.0)


def test_wishes_of_a_part_go_on_top_of_the_defaults() -> None:
    text = SOUND.replace("[defaults]", "[defaults]\nwishes = { retouches = 4, slow_feed = 30 }")
    text = text.replace("offset = 2", 'offset = 2\nwishes = { slow_feed = "1 in/min" }')
    assert jobs.loads(text).parts[2].wishes == Wishes(retouches=4, slow_feed=25.4)


def test_what_a_simulated_machine_makes_of_a_part_stands_apart() -> None:
    text = spoiled("offset = 2", 'offset = 2\non_fault = "skip"\nsimulated = { lead_off_after = 3, skew_deg = 1 }')
    part = jobs.loads(text).parts[2]
    assert part.staged == Staged(lead_off_after=3, skew=math.radians(1.0))
    assert part.on_fault is OnFault.SKIP


def test_a_file_may_begin_with_the_mark_that_some_editors_write(tmp_path: Path) -> None:
    path = tmp_path / "lids.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SOUND.replace("\n", "\r\n").encode())
    assert jobs.read(path).title == "two lids"


def test_what_is_read_here_the_typed_decoder_accepts_too() -> None:
    """The types that a schema is made from, and the reader that finds every problem, agree on a sound file."""
    table = msgspec.convert(tomllib.loads(SOUND), JobTable)
    assert [part.name for part in table.parts] == [part.name for part in sound().parts]


def test_a_json_schema_can_be_made_of_the_tables() -> None:
    schema = msgspec.json.schema(JobTable)
    assert schema["$defs"]["StockTable"]["required"] == ["size_x", "size_y", "thickness"]
    assert schema["$defs"]["StockTable"]["additionalProperties"] is False


# ---- what is wrong, and where -----------------------------------------------------------------------------

WRONG = [
    ("thickness = 18, jaw_", "thickness = -18, jaw_", "defaults.stock.thickness: ", "greater than 0 mm"),
    ("offset = 1", "offset = 0", "parts[1].offset: is 0; ", "a whole number from 1 to 9"),
    ("offset = 1", "offset = 1.0", "parts[1].offset: is 1; ", "a whole number from 1 to 9 or 'record only'"),
    ("offset = 1", "offset = true", "parts[1].offset: is True; ", "a whole number from 1 to 9"),
    ("offset = 1", "offset = 2", "parts[2].offset: ", "work offset 2 is already set by parts[1]"),
    ("offset = 1", "", "parts[1].offset: is missing; ", "a whole number from 1 to 9 or 'record only'"),
    ("offset = 1", 'offset = 1\ncorner = "front rihgt"', "parts[1].corner: ", "did you mean 'front right'?"),
    ("offset = 1", "offset = 1\nofset = 3", "parts[1].ofset: is not known here", "did you mean 'offset'?"),
    ("offset = 1", 'offset = 1\nplate = "cornre"', "parts[1].plate: no plate is called ", "did you mean 'corner'?"),
    ("offset = 1", 'offset = 1\nheight = 3', "parts[1].height: ", 'belongs to place = "here"'),
    ("offset = 1", 'offset = 1\nwithin = "-1 mm"', "parts[1].within: ", "0 mm or more"),
    ("offset = 1", "offset = 1\nwishes = { retouches = 99 }", "parts[1].wishes.retouches: is 99; ", "from 0 to 50"),
    ("offset = 1", "offset = 1\nsimulated = { skew_deg = 90 }", "parts[1].simulated.skew_deg: ", "0 to 10 degrees"),
    ("offset = 1", 'offset = 1\nsimulated = { expect = "NoContakt" }', "parts[1].simulated.expect", "'NoContact'?"),
    ('name = "lid 2"', 'name = "Lid 1"', "parts[2].name: ", "already the name of parts[1]"),
    ('name = "lid 2"', 'name = "a\\u001b[31mb"', "parts[2].name: ", "'a\\x1b[31mb'"),
    ('name = "lid 2"', 'name = ""', "parts[2].name: ", "1 to 60 printable characters"),
    ('routine = "surface"', 'routine = "surfcae"', "parts[2].routine: ", "did you mean 'surface'?"),
    ('routine = "surface"', "", "parts[2].routine: is missing; ", "'surface', 'outside corner'"),
    ("x = 170, y = 40, z = -45", "x = nan, y = 40, z = -45", "parts[2].place.x: ", "a finite number"),
    ("x = 170, y = 40, z = -45", "x = inf, y = 40, z = -45", "parts[2].place.x: ", "a finite number"),
    ("x = 170, y = 40, z = -45", "x = 1e400, y = 40, z = -45", "parts[2].place.x: ", "a finite number"),
    ("x = 170, y = 40, z = -45", "x = 170, y = 40", "parts[2].place.z: is missing", "a length"),
    ("place = { x = 170, y = 40, z = -45 }", 'place = "hear"', "parts[2].place: ", "did you mean 'here'?"),
    ("place = { x = 170, y = 40, z = -45 }", 'place = "here"', "parts[2].height: is missing", "above the flat"),
    ('compare_with = "pad"', 'compare_with = "padd"', "parts[3].compare_with: ", "did you mean 'pad'?"),
    ("offsets = [1, 2]", "offsets = [1, 1]", "parts[3].offsets: ", "names a work offset twice"),
    ("offsets = [1, 2]", "offsets = []", "parts[3].offsets: has 0 items", "1 to 9"),
    ("offsets = [1, 2]", "offsets = [1, 12]", "parts[3].offsets[1]: is 12; ", "a whole number from 1 to 9"),
    ("free_length = 15", 'free_length = "15 cm"', "tools.cutter.free_length: ", "known are mm, in"),
    ("helix_deg = 30", "helix_deg = 95", "tools.cutter: ", "below 90°"),
    ("recess_a = 38", "recess_a = 60", "plates.corner.recess_a: ", "smaller than size_a (50 mm)"),
    ("high = { x = 150, y = 20 }", "high = { x = 120, y = 20 }", "keep_outs[0]: ", "inside out"),
    ('adapter = "mock"', "adapter = 5", "machine.adapter: ", "must be a text, not 5"),
    ('title = "two lids"', 'titel = "two lids"', "titel: is not known here", "did you mean 'title'?"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "where", "what"), WRONG)
def test_a_problem_names_the_key_and_what_would_be_right(old: str, new: str, where: str, what: str) -> None:
    found = complaints(spoiled(old, new))
    assert len(found) == 1, found
    assert found[0].startswith(f"lids.toml: {where}")
    assert what in found[0]


def test_all_problems_are_told_at_once_whichever_part_they_are_in() -> None:
    text = spoiled("offset = 1", "offset = 77").replace("z = -45 }\noffset = 2", "z = nan }\noffset = 2")
    text = text.replace("free_length = 15", "free_length = -15").replace("recess_b = 37", "recess_b = 370")
    assert [line.split(": ")[1] for line in complaints(text)] == [
        "tools.cutter.free_length",
        "parts[1].offset",
        "parts[2].place.z",
        "plates.corner.recess_b",
    ]


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ('adapter = "mock"', 'adapter = "mokc"', "machine.adapter"),
        ("tool_length_range = 0.5", "tool_lenght_range = 0.5", "machine.options"),
    ],
)
def test_what_is_wrong_with_the_machine_is_told_with_the_rest(old: str, new: str, where: str) -> None:
    """And alone only by whoever connects to it: on another computer the adapter may be there."""
    assert complaints(spoiled(old, new)) == []
    found = complaints(spoiled(old, new).replace("offset = 2", "offset = 77"))
    assert [line.split(": ")[1] for line in found] == [where, "parts[2].offset"]


def test_an_adapter_is_judged_by_its_name_alone_where_its_table_is_spoiled() -> None:
    found = complaints(spoiled('adapter = "mock"', 'adapter = "mokc"\nnmae = "x"'))
    assert [line.split(": ")[1] for line in found] == ["machine.adapter", "machine.nmae"]


def test_a_part_of_an_unknown_routine_is_judged_by_what_means_the_same_in_all() -> None:
    text = spoiled('routine = "outside corner"', 'routine = "outside korner"')
    found = complaints(text.replace("offset = 1\n", "offset = 12\nwave = 0\n"))
    assert [line.split(": ")[1] for line in found] == ["parts[1].routine", "parts[1].offset", "parts[1].wave"]


def test_a_grid_is_looked_at_also_where_its_plate_is_wrong() -> None:
    grid = "offset = 8\ngrid = { rows = 1, columns = 3, pitch_x = 70 }"
    found = complaints(spoiled("offset = 2\n", f"{grid}\n").replace("recess_b = 37", "recess_b = 370"))
    assert [line.split(": ")[1] for line in found] == ["plates.corner.recess_b", "parts[2].grid"]


def test_a_fault_in_the_defaults_is_told_once_and_not_for_every_part() -> None:
    found = complaints(spoiled("within = 0.6", "within = -0.6"))
    assert found == ["lids.toml: defaults.within: within must be 0 mm or more, not -0.6"]


def test_no_plate_may_be_called_none() -> None:
    assert (
        "plates.none: no plate may be called 'none'" in complaints(spoiled("[plates.corner]", "[plates.none]"))[0]
    )


def test_keep_outs_that_overlap_are_refused_and_those_that_touch_are_not() -> None:
    clamp = '\n[[keep_outs]]\nname = "jaw"\nlow = {{ x = {0}, y = 5 }}\nhigh = {{ x = 180, y = 30 }}\n'
    assert "keep_outs[1]: 'jaw' overlaps 'clamp'" in complaints(SOUND + clamp.format(149))[0]
    assert complaints(SOUND + clamp.format(150)) == []


def test_a_part_without_a_plate_must_say_so() -> None:
    found = complaints(
        SOUND.replace('plate = "corner"\n', "").replace("offset = 2", 'offset = 2\nplate = "corner"')
    )
    assert found == [
        "lids.toml: parts[1].plate: is missing, here and in [defaults]; must be one of 'corner', or \"none\" to"
        " touch the stock itself"
    ]


def test_syntax_errors_come_with_line_and_column() -> None:
    assert complaints('title = "x"\n[machine\n') == [
        "lids.toml: line 2, column 9: not TOML: expected ']' at the end of a table declaration"
    ]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("a = " + "[" * 5000, "nested too deeply"),
        ("a = " + "9" * 5000, "thousands of digits"),
        (".".join("a" * 5000) + " = 1", "line 1: has more than 100 points"),
        ("[machine.options]\na = " + "[" * 30 + "]" * 30, "machine.options.a[0]"),
        ("[machine.options]\na = [nan]", "machine.options.a[0]: is nan"),
    ],
)
def test_hostile_text_is_refused_in_few_words(text: str, what: str) -> None:
    found = complaints(text)
    assert any(what in line for line in found)
    assert all(len(line) < 700 for line in found)


def test_no_more_than_fifty_problems_are_listed() -> None:
    part = '\n[[parts]]\nname = ""\nroutine = "surface"\n'
    found = complaints(SOUND + part * 100)
    assert len(found) == 51
    assert found[-1].endswith("more of the kind")


@pytest.mark.parametrize("make", ["missing", "folder", "device", "binary", "huge"])
def test_a_file_that_cannot_be_read_is_named_with_the_reason(make: str, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    if make == "folder":
        path.mkdir()
    elif make == "device":
        path = Path(os.devnull)
    elif make == "binary":
        path.write_bytes(b"a = 1\nb = '\xff'\n")
    elif make == "huge":
        path.write_bytes(b"#" * (5 * 2**20))
    with pytest.raises(JobError) as caught:
        jobs.read(path)
    reasons = {
        "missing": "cannot be read: No such file or directory",
        "folder": "it is not a file",
        "device": "it is not a file",
        "binary": "line 2: byte 0xff is not UTF-8 text",
        "huge": "larger than 4 MiB",
    }
    assert reasons[make] in str(caught.value)
    assert str(path) in str(caught.value)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.data())
def test_whatever_value_stands_anywhere_reading_ends_in_a_job_or_a_job_error(data: st.DataObject) -> None:
    """One value of the sound job is replaced by anything that TOML can hold."""
    lines = SOUND.split("\n")
    places = [index for index, line in enumerate(lines) if " = " in line and not line.startswith(("low", "high"))]
    index = data.draw(st.sampled_from(places))
    junk = st.sampled_from(
        ["nan", "-inf", "1e400", "true", "[]", "{}", "1979-05-27", "''", '"\\u0000"', "-1", "9" * 400]
    )
    lines[index] = f"{lines[index].split(' = ')[0]} = {data.draw(junk)}"
    for line in complaints("\n".join(lines)):
        assert line.isprintable()


SECOND_CHANGE = """
[[parts]]
name = "cutter out"
routine = "tool change"
tool = "pin"
compare_with = "pad"
offsets = [2]
"""


def test_a_second_tool_change_may_not_compare_with_the_height_of_the_first_tool() -> None:
    """The shift of the first change would be in Z twice; and no tool is put back as deep as it was."""
    (found,) = complaints(SOUND + SECOND_CHANGE)
    assert found.startswith("lids.toml: parts[4].compare_with: 'pad' was touched before the tool of work offset 2")
    assert complaints(SOUND + SECOND_CHANGE.replace('"pad"', '"cutter in"')) == []
