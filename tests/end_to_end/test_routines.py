"""Every routine finds, on the virtual machine, what truly lies there, at every corner where that matters.

The machine is ideal but for its motor steps and the sampling of its circuit, so what is found is right within
`NEAR` mm: a step of 0.0025 mm, what a re-touch passes between two samples, and the storage of offsets.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from gingerly import (
    Axis,
    BlockMiddle,
    BoreCentre,
    BossCentre,
    Corner,
    EdgeSkew,
    InsideCorner,
    Limits,
    NoContact,
    NotAsSet,
    OutsideCorner,
    OutsideEnvelope,
    PlateCalibration,
    PocketMiddle,
    Position,
    ReactionTime,
    Repeatability,
    RibMiddle,
    SingleEdge,
    SkewedCorner,
    SlotMiddle,
    Stock,
    Surface,
    SurfaceGrid,
    ToolChange,
    ToolDiameter,
    TopSpot,
    Verify,
)
from gingerly.budgets.doubts import NOTHING, Doubts
from gingerly.driver.result import Result
from gingerly_mock import Bore, Boss, Island, MockAdapter, Pocket
from support.bench import PIN, PLACE, PLATE, STOCK, bench, scene

pytestmark = pytest.mark.asyncio

NEAR = 0.004
BARE = replace(STOCK, conductive=True)
EXACT = Doubts(seating=NOTHING, spindle_growth=NOTHING)
"""On this machine nothing is one-sided, so nothing is to be corrected for."""

CORNERS = pytest.mark.parametrize("corner", list(Corner))
PLATES = pytest.mark.parametrize("plate", [None, PLATE], ids=["direct", "plate"])


def bare_spot(corner: Corner = Corner.FRONT_LEFT, **changes: Any) -> TopSpot:
    return TopSpot(**{"tool": PIN, "stock": BARE, "place": PLACE, "corner": corner, "within": 0.8, **changes})


def bare_scene(corner: Corner = Corner.FRONT_LEFT, **changes: Any) -> Any:
    return scene(corner, **{"stock": BARE, "plate": None, "within": 0.5, **changes})


async def found(
    routine: Any, blank: Any, feature: Any = None, **options: Any
) -> tuple[Result, Position, MockAdapter]:
    """The result of a routine, the true corner of the blank that was on the table, and the machine."""
    machine = bench(machine={"doubts": EXACT}, **options)
    async with machine:
        truth = machine.adapter.stage(blank)
        if feature is not None:
            machine.adapter.mill(feature)
        result = await machine.attempt(routine)
    assert result.fault is None, result.fault.story()
    assert machine.adapter.deepest_penetration <= PIN.overtravel
    return result, truth, machine.adapter


def at(truth: Position, corner: Corner, x: float, y: float) -> tuple[float, float]:
    """The point x and y mm inward from the true corner."""
    return truth.x + corner.inward[0] * x, truth.y + corner.inward[1] * y


def axes(result: Result) -> tuple[float, ...]:
    return tuple(value for _, value in result.outcome.found)


def measures(result: Result) -> dict[str, float]:
    return dict(result.outcome.measures)


# ---- edges and corners ------------------------------------------------------------------------------------


@pytest.mark.thorough
@CORNERS
@PLATES
async def test_an_outside_corner_is_found_with_a_plate_and_without(corner, plate):
    spot = TopSpot(tool=PIN, stock=BARE, place=PLACE, corner=corner, plate=plate)
    result, truth, _ = await found(OutsideCorner(spot=spot, offset=3), scene(corner, stock=BARE, plate=plate))
    assert result.outcome.offsets[0].new == pytest.approx(truth, abs=NEAR)


@pytest.mark.thorough
@CORNERS
@PLATES
async def test_what_is_touched_from_above_is_found_at_every_corner(corner, plate):
    """A surface, a reference for a tool change, repeated touches, and touches at several feeds."""
    spot = TopSpot(tool=PIN, stock=BARE, place=PLACE, corner=corner, plate=plate)
    blank = scene(corner, stock=BARE, plate=plate)
    surface, truth, _ = await found(Surface(spot=spot), blank)
    reference, _, _ = await found(ToolChange(spot=spot), blank)
    repeated, _, _ = await found(Repeatability(spot=spot, touches=3), blank)
    late, _, _ = await found(ReactionTime(spot=spot, rounds=1), blank)
    assert axes(surface) == pytest.approx((truth.z,), abs=NEAR)
    assert axes(reference) == pytest.approx((truth.z + (PLATE.top if plate is not None else 0.0),), abs=NEAR)
    assert measures(repeated)["range"] <= NEAR
    assert measures(late)["latch_s"] == pytest.approx(0.0, abs=0.001)


@CORNERS
@PLATES
@pytest.mark.parametrize("axis", [Axis.X, Axis.Y])
async def test_a_single_edge_is_found_and_sets_its_axis_alone(corner, plate, axis):
    """The other axes of the work offset stay as they were."""
    spot = TopSpot(tool=PIN, stock=BARE, place=PLACE, corner=corner, plate=plate)
    blank = scene(corner, stock=BARE, plate=plate)
    result, truth, _ = await found(SingleEdge(spot=spot, axis=axis, offset=4), blank)
    new, old = result.outcome.offsets[0].new, result.outcome.offsets[0].old
    assert new == pytest.approx(old.with_axes({axis: truth[axis]}), abs=NEAR)


@CORNERS
@PLATES
async def test_the_skew_of_an_edge_is_found_from_two_touches(corner, plate):
    """The angle between two touches is right within what both may be off by over their distance."""
    spot = TopSpot(tool=PIN, stock=BARE, place=PLACE, corner=corner, plate=plate)
    for axis in (Axis.X, Axis.Y):
        routine = EdgeSkew(spot=spot, axis=axis)
        blank = scene(corner, stock=BARE, plate=plate, skew=math.radians(0.4), within=0.5)
        result, _, adapter = await found(routine, blank)
        base = 15.0 if plate is not None else 50.0
        assert abs(adapter.true_skew) > 1e-4
        assert measures(result)["rotation"] == pytest.approx(adapter.true_skew, abs=NEAR / base)


@CORNERS
@PLATES
@pytest.mark.parametrize("long_wall", [Axis.X, Axis.Y])
async def test_a_skewed_corner_gives_origin_and_rotation(corner, plate, long_wall):
    """The corner of turned stock is where its turned faces meet, not where square ones would: a plate's lips are
    touched 15 mm apart, bare walls 50 mm, and the turn is the less sure for it."""
    spot = bare_spot(corner, plate=plate)
    routine = SkewedCorner(spot=spot, long_wall=long_wall, offset=2)
    blank = bare_scene(corner, plate=plate, skew=math.radians(0.45))
    result, truth, adapter = await found(routine, blank)
    base = 15.0 if plate is not None else 50.0
    assert result.outcome.offsets[0].new == pytest.approx(truth, abs=(1.5 + 15.0 / base) * NEAR)
    assert measures(result)["rotation"] == pytest.approx(adapter.true_skew, abs=NEAR / base)


async def test_a_skewed_corner_reads_its_faces_along_the_turned_axes():
    """A corner that reads 20 in X has its origin 20 mm back along the turned X."""
    routine = SkewedCorner(spot=bare_spot(), reads=Position(20.0, 0.0, 0.0), offset=2)
    result, truth, adapter = await found(routine, bare_scene(skew=math.radians(0.45)))
    turn = adapter.true_skew
    origin = truth.minus(Position(20.0 * math.cos(turn), 20.0 * math.sin(turn), 0.0))
    assert result.outcome.offsets[0].new == pytest.approx(origin, abs=1.5 * NEAR)


@CORNERS
@pytest.mark.parametrize("which", list(Corner))
async def test_every_inside_corner_of_a_pocket_is_found_at_every_corner_of_the_stock(corner, which):
    """Which corner of the pocket it is counts as seen from above, wherever the stock's own corner is."""
    x = 55.0 - 20.0 * which.inward[0] * corner.inward[0]
    y = 45.0 - 15.0 * which.inward[1] * corner.inward[1]
    routine = InsideCorner(spot=bare_spot(corner), at=(x, y), which=which, sizes=(40.0, 30.0), deep=12.0)
    result, truth, _ = await found(routine, bare_scene(corner), Pocket(55.0, 45.0, 40.0, 30.0, 12.0))
    assert axes(result) == pytest.approx(at(truth, corner, x, y), abs=NEAR)


# ---- round features ---------------------------------------------------------------------------------------


@CORNERS
@pytest.mark.parametrize("touches", [3, 4, 7])
async def test_a_bore_gives_its_centre_and_its_diameter(corner, touches):
    """Any number of touches from three up."""
    routine = BoreCentre(spot=bare_spot(corner), centre=(50.0, 40.0), diameter=20.0, deep=15.0, touches=touches)
    result, truth, _ = await found(routine, bare_scene(corner), Bore(50.0, 40.0, 20.0, 15.0))
    assert axes(result) == pytest.approx(at(truth, corner, 50.0, 40.0), abs=1.5 * NEAR)
    assert measures(result)["diameter"] == pytest.approx(20.0, abs=2.0 * NEAR)


@CORNERS
@pytest.mark.parametrize("touches", [3, 4, 6])
async def test_a_boss_gives_its_centre_and_its_diameter(corner, touches):
    """Touched from outside, over the top from one side to the next."""
    routine = BossCentre(
        spot=bare_spot(corner),
        centre=(50.0, 40.0),
        diameter=30.0,
        height=10.0,
        touches=touches,
        with_top=True,
        offset=1,
    )
    result, truth, _ = await found(routine, bare_scene(corner), Boss(50.0, 40.0, 30.0, 10.0))
    assert axes(result) == pytest.approx((*at(truth, corner, 50.0, 40.0), truth.z), abs=1.5 * NEAR)
    assert measures(result)["diameter"] == pytest.approx(30.0, abs=2.0 * NEAR)


async def test_a_bore_much_wider_than_stated_is_not_found():
    """Its wall lies 2 mm beyond where it is looked for: no contact, nothing written, and the way out again."""
    machine = bench(machine={"doubts": EXACT})
    routine = BoreCentre(spot=bare_spot(within=0.4), centre=(50.0, 40.0), diameter=20.0, deep=15.0, offset=1)
    async with machine:
        machine.adapter.stage(bare_scene(within=0.0))
        machine.adapter.mill(Bore(50.0, 40.0, 24.0, 15.0))
        result = await machine.attempt(routine)
        snapshot = await machine.look()
    assert isinstance(result.fault, NoContact)
    assert result.outcome.offsets == ()
    assert snapshot.position.z == machine.facts.envelope.high.z


# ---- what has two sides -----------------------------------------------------------------------------------


@CORNERS
@pytest.mark.parametrize("axis", [Axis.X, Axis.Y])
async def test_a_slot_gives_its_middle_and_its_width(corner, axis):
    """Across either axis, with the top set besides."""
    sizes = (16.0, 50.0) if axis is Axis.X else (50.0, 16.0)
    routine = SlotMiddle(
        spot=bare_spot(corner), axis=axis, centre=(50.0, 45.0), width=16.0, length=50.0, deep=9.0, with_top=True
    )
    result, truth, _ = await found(routine, bare_scene(corner), Pocket(50.0, 45.0, *sizes, 9.0))
    assert axes(result) == pytest.approx((at(truth, corner, 50.0, 45.0)[axis], truth.z), abs=NEAR)
    assert measures(result)[f"width {axis.name}"] == pytest.approx(16.0, abs=2.0 * NEAR)


@CORNERS
async def test_a_pocket_gives_its_middle_and_both_widths(corner):
    """The second pair begins in the middle that the first has found."""
    routine = PocketMiddle(spot=bare_spot(corner), centre=(55.0, 45.0), sizes=(40.0, 30.0), deep=12.0)
    result, truth, _ = await found(routine, bare_scene(corner), Pocket(55.0, 45.0, 40.0, 30.0, 12.0))
    assert axes(result) == pytest.approx(at(truth, corner, 55.0, 45.0), abs=NEAR)
    assert measures(result) == pytest.approx({"width X": 40.0, "width Y": 30.0}, abs=2.0 * NEAR)


@CORNERS
@pytest.mark.parametrize("axis", [Axis.X, Axis.Y])
async def test_a_rib_gives_its_middle_and_its_width(corner, axis):
    """Touched on top, then from both sides, with the lead assured in between."""
    sizes = (8.0, 40.0) if axis is Axis.X else (40.0, 8.0)
    routine = RibMiddle(spot=bare_spot(corner), axis=axis, centre=(50.0, 45.0), width=8.0, length=40.0, height=9.0)
    result, truth, _ = await found(routine, bare_scene(corner), Island(50.0, 45.0, *sizes, 9.0))
    assert axes(result) == pytest.approx(at(truth, corner, 50.0, 45.0)[axis : axis + 1], abs=NEAR)
    assert measures(result)[f"width {axis.name}"] == pytest.approx(8.0, abs=2.0 * NEAR)


@CORNERS
async def test_a_block_gives_the_middle_of_the_whole_stock(corner):
    """Without sizes of its own it is the stock itself."""
    small = replace(BARE, size_x=70.0, size_y=60.0)
    routine = BlockMiddle(spot=bare_spot(corner, stock=small), offset=5, with_top=True)
    result, truth, _ = await found(routine, bare_scene(corner, stock=small))
    assert result.outcome.offsets[0].new == pytest.approx((*at(truth, corner, 35.0, 30.0), truth.z), abs=NEAR)
    assert measures(result) == pytest.approx({"width X": 70.0, "width Y": 60.0}, abs=2.0 * NEAR)


# ---- faces, comparisons, calibrations ----------------------------------------------------------------------


@CORNERS
async def test_a_flat_face_is_flat_and_level_and_needs_no_shims(corner):
    """Within two steps of the machine, everywhere on a grid of four by three."""
    supports = ((10.0, 10.0), (100.0, 10.0), (10.0, 80.0))
    routine = SurfaceGrid(spot=bare_spot(corner), columns=4, rows=3, supports=supports)
    result, truth, _ = await found(routine, bare_scene(corner))
    seen = measures(result)
    assert seen["flatness"] <= NEAR
    assert seen["highest"] == pytest.approx(truth.z, abs=NEAR)
    assert [seen[f"shim {number}"] for number in (1, 2, 3)] == pytest.approx([0.0] * 3, abs=NEAR)


@CORNERS
@PLATES
async def test_a_verified_part_is_told_how_far_off_it_is_and_stays_as_it_was(corner, plate):
    """Nothing is written, even where the routine by itself would write."""
    spot = TopSpot(tool=PIN, stock=BARE, place=PLACE, corner=corner, plate=plate)
    machine = bench(machine={"doubts": EXACT})
    async with machine:
        truth = machine.adapter.stage(scene(corner, stock=BARE, plate=plate))
        expected = tuple((axis, truth[axis]) for axis in Axis)
        routine = Verify(routine=OutsideCorner(spot=spot, offset=1), expected=expected, tolerance=0.02)
        result = await machine.probe(routine)
        stands = await machine.read_offset(1)
    assert stands == Position(0.0, 0.0, 0.0)
    assert measures(result) == pytest.approx({"off X": 0.0, "off Y": 0.0, "off Z": 0.0}, abs=NEAR)


async def test_a_part_that_has_moved_is_not_verified():
    """A top face 0.3 mm from where it was set is a fault that names the axis and by how much."""
    spot = TopSpot(tool=PIN, stock=STOCK, place=PLACE, plate=PLATE)
    machine = bench(machine={"doubts": EXACT})
    async with machine:
        truth = machine.adapter.stage(scene())
        routine = Verify(routine=Surface(spot=spot, offset=1), expected=((Axis.Z, truth.z - 0.3),), tolerance=0.1)
        result = await machine.attempt(routine)
    assert isinstance(result.fault, NotAsSet)
    assert "Z was set to" in result.fault.detail
    assert "mm too much" in result.fault.detail


async def test_repeated_touches_of_one_spot_scatter_by_the_latching_of_the_slow_feed():
    """A slow feed of one step between two samples leaves a range of two steps at most."""
    spot = TopSpot(tool=PIN, stock=STOCK, place=PLACE, plate=PLATE)
    result, _, adapter = await found(Repeatability(spot=spot, touches=12), scene(), sample_s=0.001)
    seen = measures(result)
    assert 0.0 < seen["range"] <= 2.0 * adapter.facts.resolution
    assert seen["repeatability"] == pytest.approx(4.0 * seen["standard deviation"])
    assert len(result.outcome.faces) == 12


@pytest.mark.parametrize("lag_s", [0.0, 0.003, 0.008])
async def test_the_lateness_of_the_latch_is_found_from_touches_at_several_feeds(lag_s):
    """Besides the machine's own lag, a contact is seen half a sample late on average."""
    options = {"latch_lag_s": lag_s, "latch_s": Limits(0.0, 0.01), "sample_s": 0.001}
    spot = TopSpot(tool=PIN, stock=STOCK, place=PLACE, plate=PLATE)
    result, _, _ = await found(ReactionTime(spot=spot, rounds=8), scene(), **options)
    seen = measures(result)
    assert seen["latch_s"] == pytest.approx(lag_s + 0.0005, abs=4.0 * seen["u_latch_s"] + 1e-5)
    assert seen["u_latch_s"] < 0.0003


@CORNERS
async def test_a_plate_is_measured_against_the_block_it_sits_on(corner):
    """Top and lips as they truly are, not as they are marked, whatever the tool's radius."""
    block = Stock(size_x=130.0, size_y=130.0, thickness=25.0, jaw_height=8.0, conductive=True)
    spot = TopSpot(tool=PIN, stock=block, place=PLACE, corner=corner, plate=PLATE)
    options = {"plate_tolerance": 0.2, "tool_tolerance": 0.05}
    result, _, adapter = await found(PlateCalibration(spot=spot), scene(corner, stock=block), **options)
    top, lip_a, lip_b = adapter.true_plate
    assert measures(result) == pytest.approx({"top": top, "lip a": lip_a, "lip b": lip_b}, abs=2.0 * NEAR)
    assert abs(top - PLATE.top) > 0.01


@CORNERS
@pytest.mark.parametrize(("axis", "width"), [(Axis.X, BARE.size_x), (Axis.Y, BARE.size_y)])
async def test_a_tool_is_as_wide_as_it_touches_a_known_width(corner, axis, width):
    """The true diameter, not the one on the shank."""
    options = {"tool_tolerance": 0.05}
    place = Position(150.0 - 55.0 * corner.inward[0], 100.0 - 45.0 * corner.inward[1], PLACE.z)
    routine = ToolDiameter(spot=bare_spot(corner, place=place), width=width, axis=axis)
    result, _, adapter = await found(routine, bare_scene(corner, place=place), **options)
    assert measures(result)["diameter"] == pytest.approx(2.0 * adapter.true_tool_radius, abs=2.0 * NEAR)
    assert abs(2.0 * adapter.true_tool_radius - PIN.diameter) > 0.01


async def test_half_a_turn_by_hand_shows_the_runout_and_leaves_it_out_of_the_diameter():
    """The eccentricity of 0.03 mm has a direction of its own: twice its part along X is what half a turn moves."""
    options = {"tool_tolerance": 0.05, "runout": 0.03}
    routine = ToolDiameter(spot=bare_spot(), width=110.0, half_turn=True)
    result, _, adapter = await found(routine, bare_scene(), **options)
    part = abs(adapter.true_runout.x)
    assert adapter.true_runout.length() == pytest.approx(0.03)
    assert measures(result)["runout along X"] == pytest.approx(part, abs=NEAR)
    assert measures(result)["diameter"] == pytest.approx(2.0 * adapter.true_tool_radius, abs=2.0 * NEAR)
    assert part > NEAR


# ---- a machine without home switches ------------------------------------------------------------------------


def box(low_z: float) -> dict[str, list[float]]:
    """A free box that the operator vouches for: from here down to `low_z`."""
    return {"low": [100.0, 70.0, low_z], "high": [180.0, 150.0, 0.0]}


async def test_without_home_switches_a_corner_is_set_within_the_stated_box_until_power_off():
    """The box is the envelope, its top the clearance; the result says how long it holds."""
    spot = TopSpot(tool=PIN, stock=STOCK, place=PLACE, plate=PLATE)
    result, truth, adapter = await found(
        OutsideCorner(spot=spot, offset=1), scene(), home="none", envelope=box(-65.0)
    )
    assert result.outcome.offsets[0].new == pytest.approx(truth, abs=NEAR)
    assert result.outcome.unconfirmed == ("the machine has no home switches: what was set holds until power-off",)
    assert max(made.start.z for made in adapter.motions) == 0.0


async def test_without_home_switches_nothing_leaves_the_stated_box():
    """A box too shallow for a wall is refused before anything moves."""
    machine = bench(home="none", envelope=box(-54.0), machine={"doubts": EXACT})
    spot = TopSpot(tool=PIN, stock=STOCK, place=PLACE, plate=PLATE)
    async with machine:
        machine.adapter.stage(scene())
        result = await machine.attempt(OutsideCorner(spot=spot, offset=1))
    assert isinstance(result.fault, OutsideEnvelope)
    assert machine.adapter.motions == ()
