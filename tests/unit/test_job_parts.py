"""Every routine can be said in a job; grids, waves, facts and places are written out just as they are meant."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from gingerly import Axis, Corner, Guard, MachineFacts, Position, batch, routines
from gingerly import job as jobs
from gingerly.job import Job, JobError, Part
from gingerly.job.forecast import foresee
from gingerly.job.parts import ROUTINES, PartTable
from support.jobs import SOUND, complaints, sound, spoiled

HEAD = SOUND[: SOUND.index("[[parts]]")].replace("size_x = 80", "conductive = true, size_x = 80")
PLACE = "place = { x = 100, y = 60, z = -45 }"
CENTRE = "centre = { x = 40, y = 30 }"
SAID = {
    "surface": "offset = 1\nreads = 0.5",
    "outside corner": "offset = 1",
    "skewed corner": 'offset = 1\nlong_wall = "X"\nskew_within_deg = 1',
    "single edge": 'offset = "record only"\naxis = "Y"\nalong = 20\nwith_top = true',
    "edge skew": 'axis = "X"',
    "inside corner": """offset = 1
meets_at = { x = 25, y = 20 }
which = "front left"
sizes = { x = 40, y = 30 }
deep = 9""",
    "bore centre": f"offset = 1\n{CENTRE}\ndiameter = 26\ndeep = 9\ntouches = 6",
    "boss centre": f"offset = 1\n{CENTRE}\ndiameter = 26\nheight_of_boss = 9",
    "slot middle": f'offset = 1\naxis = "X"\n{CENTRE}\nwidth = 20\nlength = 40\ndeep = 9',
    "pocket middle": f"offset = 1\n{CENTRE}\nsizes = {{ x = 40, y = 30 }}\ndeep = 9\nwith_top = true",
    "rib middle": f'offset = 1\naxis = "Y"\n{CENTRE}\nwidth = 20\nlength = 40\nheight_of_rib = 9',
    "block middle": "offset = 1",
    "surface grid": "columns = 4\nrows = 2\nsupports = [{ x = 5, y = 5 }, { x = 60, y = 40 }]",
    "repeatability": 'touches = 5\nplate = "none"',
    "reaction time": 'feeds = [100, "200 mm/min"]\nrounds = 2\nplate = "none"',
    "tool diameter": 'width = 60\naxis = "X"',
    "plate calibration": "",
    "reference": "",
}
"""What a part with this routine says besides its name and place."""


def job_of(*parts: str, head: str = HEAD) -> Job:
    return jobs.loads(head + "\n".join(f"[[parts]]\n{part}\n" for part in parts), source="lids.toml")


def part_of(kind: str, *more: str) -> Part:
    return job_of("\n".join((f'name = "one"\nroutine = "{kind}"\n{PLACE}', SAID[kind], *more))).parts[0]


# ---- routines ---------------------------------------------------------------------------------------------


def test_every_routine_of_the_library_can_be_said_in_a_job() -> None:
    """`Verify` compares with what the controller holds."""
    known = {getattr(routines, name) for name in routines.__all__}
    planned = {one for one in known if hasattr(one, "plan") and one is not routines.Routine}
    assert planned - set(ROUTINES.values()) == {routines.Verify}


def test_every_table_is_for_a_routine_and_has_an_example_here() -> None:
    tags = {table.__struct_config__.tag for table in PartTable.__args__}
    assert tags == {*SAID, "tool change", "stop test"}


@pytest.mark.parametrize("kind", list(SAID))
def test_what_a_part_says_makes_its_routine(kind: str) -> None:
    part = part_of(kind)
    assert part.kind == kind
    assert part.spot.place == Position(100.0, 60.0, -45.0)


def test_tables_and_names_become_what_the_routine_takes() -> None:
    corner, inside, bore, skewed = map(part_of, ("single edge", "inside corner", "bore centre", "skewed corner"))
    assert (corner.routine.axis, corner.routine.along, corner.routine.offset) == (Axis.Y, 20.0, None)
    assert (inside.routine.at, inside.routine.which) == ((25.0, 20.0), Corner.FRONT_LEFT)
    assert (bore.routine.centre, bore.routine.touches) == ((40.0, 30.0), 6)
    assert skewed.routine.skew_within == pytest.approx(math.radians(1.0), abs=1e-12)
    assert part_of("reaction time").routine.feeds == (100.0, 200.0)


def test_a_stop_test_needs_a_tool_and_nothing_else() -> None:
    part = job_of('name = "first day"\nroutine = "stop test"\nrise = "1/2 in"\nfeed = 40').parts[0]
    assert (part.kind, part.tool.name, part.offsets, part.here) == ("stop test", "pin", (), False)
    assert (part.routine.height, part.routine.feed) == (12.7, 40.0)
    assert part.moved(3.0) == part


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("rise = 2", "parts[0]: a stop test rises by 5 mm at least, not by 2 mm"),
        ("place = 1", "parts[0].place: is not known here"),
    ],
)
def test_what_a_stop_test_refuses_is_told_at_its_key(said: str, told: str) -> None:
    (found,) = complaints(f'{HEAD}[[parts]]\nname = "one"\nroutine = "stop test"\n{said}\n')
    assert found.startswith(f"lids.toml: {told}")


def test_what_is_touched_from_inside_takes_no_plate_though_the_defaults_name_one() -> None:
    assert part_of("bore centre").spot.plate is None
    assert part_of("outside corner").spot.plate is not None


def test_what_a_routine_refuses_is_told_at_the_part() -> None:
    found = complaints(f'{HEAD}[[parts]]\nname = "one"\nroutine = "reaction time"\n{PLACE}\nfeeds = [100, 100]\n')
    assert found == ["lids.toml: parts[0]: a slope takes two different feeds at least"]


# ---- grids and waves --------------------------------------------------------------------------------------

SIX = "rows = 2, columns = 3, pitch_x = 90, pitch_y = -70"


def grid(said: str, offset: str = "2") -> str:
    """A part at (10, 20) that is repeated in a grid."""
    place = "place = { x = 10, y = 20, z = -45 }"
    return f'name = "lid"\nroutine = "surface"\n{place}\noffset = {offset}\ngrid = {{ {said} }}'


def test_a_grid_is_written_out_row_by_row_with_offsets_that_count_up() -> None:
    parts = job_of(grid(SIX)).parts
    assert [part.name for part in parts] == ["lid 1-1", "lid 1-2", "lid 1-3", "lid 2-1", "lid 2-2", "lid 2-3"]
    assert [part.offsets for part in parts] == [(2,), (3,), (4,), (5,), (6,), (7,)]
    assert parts[5].spot.place == Position(190.0, -50.0, -45.0)


def test_places_of_a_grid_can_be_left_out() -> None:
    said = f"{SIX}, leave_out = [{{ row = 1, column = 2 }}, {{ row = 2, column = 3 }}]"
    assert [part.name for part in job_of(grid(said)).parts] == ["lid 1-1", "lid 1-3", "lid 2-1", "lid 2-2"]


def test_more_parts_than_offsets_work_in_waves() -> None:
    parts = job_of(grid("rows = 3, columns = 4, pitch_x = 20, pitch_y = 20, per_wave = 8")).parts
    assert [part.wave for part in parts] == [1] * 8 + [2] * 4
    assert [part.offsets[0] for part in parts] == [2, 3, 4, 5, 6, 7, 8, 9, 2, 3, 4, 5]


def test_more_parts_than_offsets_may_only_record_their_origin() -> None:
    parts = job_of(grid("rows = 3, columns = 4, pitch_x = 20, pitch_y = 20", '"record only"')).parts
    assert {part.offsets for part in parts} == {()}


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (
            "rows = 3, columns = 4, pitch_x = 20, pitch_y = 20",
            "grid: counts work offsets from 2 to 13, and there are 9",
        ),
        ("rows = 2, columns = 1", "grid.pitch_y: is missing; must be the way from one to the next of 2"),
        ("rows = 1, columns = 0", "grid.columns: is 0; must be a whole number from 1"),
        ("rows = 1, columns = 1, leave_out = [{ row = 2, column = 1 }]", "grid.leave_out[0]: is row 2, column 1"),
    ],
)
def test_a_grid_that_cannot_be_is_told_at_its_key(said: str, told: str) -> None:
    found = complaints(f"{HEAD}[[parts]]\n{grid(said)}\n")
    assert len(found) == 1
    assert found[0].startswith(f"lids.toml: parts[0].{told}")


def surface(name: str, more: str) -> str:
    return f'name = "{name}"\nroutine = "surface"\n{PLACE}\n{more}'


def test_an_offset_may_be_set_again_in_a_later_wave_and_waves_never_go_back() -> None:
    job = job_of(surface("a", "offset = 1"), surface("b", "offset = 1\nwave = 2"), surface("c", "offset = 2"))
    assert [part.wave for part in job.parts] == [1, 2, 2]
    assert (job.waves, [part.name for part in job.wave(2).parts]) == ((1, 2), ["b", "c"])
    with pytest.raises(JobError, match="after a part of wave 2; waves never go back"):
        job_of(surface("a", "offset = 1\nwave = 2"), surface("b", "offset = 2\nwave = 1"))
    with pytest.raises(ValueError, match="the waves 1, 2, and not 3"):
        job.wave(3)


def test_twice_the_same_offset_in_one_wave_is_refused_with_a_way_out() -> None:
    with pytest.raises(JobError, match=r"work offset 1 is already set by parts\[0\]; a later `wave`"):
        job_of(surface("a", "offset = 1"), surface("b", "offset = 1"))


# ---- people and places ------------------------------------------------------------------------------------


def test_any_part_may_lie_where_the_tool_is_brought_to() -> None:
    here = 'place = "here"\nheight = 6'
    job = job_of(surface("a", "offset = 1"), surface("b", "offset = 2").replace(PLACE, here))
    assert [part.here for part in job.parts] == [False, True]
    assert not job.parts[1].same_setting(job.parts[0])


def test_hands_are_needed_wherever_plate_lead_or_blank_change() -> None:
    same, new = surface("b", "offset = 2"), surface("b", "offset = 2\nnew_blank = true")
    other = same.replace("x = 100", "x = 10")
    wired = [surface(name, f'offset = {n}\nplate = "none"\nwired = true') for n, name in ((1, "a"), (2, "b"))]
    wired[1] = wired[1].replace("x = 100", "x = 10")
    needs = []
    for parts in (
        (surface("a", "offset = 1"), same),
        (surface("a", "offset = 1"), new),
        (surface("a", "offset = 1"), other),
        wired,
    ):
        before, part = job_of(*parts).parts
        needs.append(part.same_setting(before))
    assert needs == [True, False, False, True]


def test_what_a_job_says_to_the_operator_is_text_for_people() -> None:
    assert job_of(surface("a", 'offset = 1\nsay = "Turn it over."')).parts[0].say == "Turn it over."
    with pytest.raises(JobError, match=r"parts\[0\]\.say: say must be a text of 1 to 300 printable characters"):
        job_of(surface("a", 'offset = 1\nsay = "\\u001b[2J"'))


# ---- facts ------------------------------------------------------------------------------------------------

FACTS = 'resolution = 0.005\nguard = "polled"\nbacklash = "0.02 mm"\nlatch_s = { low = 0, high = 0.001 }\n'


def facts_of(job: Job) -> MachineFacts:
    return batch.connect(job).facts


def test_facts_stand_in_the_job_or_in_a_file_beside_it(tmp_path: Path) -> None:
    (tmp_path / "mill.toml").write_text(FACTS)
    inside = SOUND.replace("[machine.options]", f"[machine.facts]\n{FACTS}\n[machine.options]")
    beside = SOUND.replace('name = "cellar mill"', 'name = "cellar mill"\nfacts = "mill.toml"')
    (tmp_path / "job.toml").write_text(beside)
    for job in (jobs.loads(inside), jobs.read(tmp_path / "job.toml")):
        facts = facts_of(job)
        assert (facts.resolution, facts.guard, facts.backlash) == (0.005, Guard.POLLED, 0.02)
        assert facts.latch_s.high == 0.001


def test_what_is_wrong_in_a_file_of_facts_is_told_with_its_name(tmp_path: Path) -> None:
    (tmp_path / "mill.toml").write_text("resolution = -1\nacelleration = 5\n")
    text = SOUND.replace('name = "cellar mill"', 'name = "cellar mill"\nfacts = "mill.toml"')
    with pytest.raises(JobError) as caught:
        jobs.loads(text, folder=tmp_path)
    told = [str(problem) for problem in caught.value.problems]
    assert told[0] == (
        "machine.facts: in 'mill.toml': acelleration: is not known here; did you mean 'acceleration'?"
    )
    assert "in 'mill.toml': resolution: " in told[1]
    with pytest.raises(JobError, match=r"machine\.facts: in 'gone\.toml': cannot be read"):
        jobs.loads(text.replace("mill.toml", "gone.toml"), folder=tmp_path)


# ---- the schema and the forecast --------------------------------------------------------------------------


def test_the_schema_knows_every_routine_and_describes_every_table() -> None:
    """However often it is asked for."""
    schema = jobs.schema()
    assert schema == jobs.schema()
    tags = [
        one["properties"]["routine"]["enum"] for one in schema["$defs"].values() if "routine" in one["properties"]
    ]
    assert sorted(tag for (tag,) in tags) == sorted([*SAID, "tool change", "stop test"])
    assert all(one.get("description") for one in schema["$defs"].values())


def test_a_forecast_takes_as_long_as_the_machine_does_but_for_the_people() -> None:
    """The virtual operator takes no time here; looks, and places within their windows, make the difference."""
    job = sound().with_options(ideal=True, operator={"seconds": 0.0})
    machine = batch.connect(job)
    forecast = foresee(job, machine.facts, Position(150.0, 100.0, 0.0))  # where the virtual machine begins
    summary = batch.run_blocking(job)
    assert forecast.objections == ()
    assert forecast.duration_s == pytest.approx(summary.duration_s, rel=0.05)
    for name in ("pad", "lid 2", "cutter in"):  # single touches: only where in its window the face lies is unknown
        (ahead,) = [part.duration_s for part in forecast.parts if part.part.name == name]
        (taken,) = [entry.result.duration_s for entry in summary.parts if entry.part.name == name]
        assert ahead == pytest.approx(taken, rel=0.02)


def test_a_forecast_tells_what_would_be_refused_and_goes_on() -> None:
    job = jobs.loads(spoiled("x = 170, y = 40", "x = 1170, y = 40"))
    forecast = foresee(job, batch.connect(job).facts, Position(0.0, 0.0, 0.0))
    assert [(part.name, fault.name) for part, fault in forecast.objections] == [("lid 2", "OutsideEnvelope")]
    assert [bool(part.touches) for part in forecast.parts] == [True, True, False, True]
