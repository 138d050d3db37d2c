"""For any plate, tool, corner and start: the way of a routine meets nothing but what it means to touch."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise, takewhile
from typing import Any

import pytest
from hypothesis import HealthCheck, event, given, reject, settings
from hypothesis import strategies as st

from gingerly import (
    BlockMiddle,
    Bolt,
    BoreCentre,
    BossCentre,
    Box,
    Corner,
    InsideCorner,
    KeepOut,
    OutsideCorner,
    Placement,
    Plate,
    PocketMiddle,
    Position,
    RibMiddle,
    Scene,
    SlotMiddle,
    Stock,
    Surface,
    Tip,
    Tool,
    TopSpot,
)
from gingerly.budgets.doubts import NOTHING, Doubts
from gingerly.geometry import Axis
from gingerly.messages.faults import PlanFault
from gingerly.messages.touches import Face, Finding, Touch
from gingerly.routines import Above, PlannedCourse, Routine, Site
from gingerly.routines.preflight import Move, moves
from gingerly_mock import Bore, Boss, Island, MockAdapter, Pocket
from gingerly_mock.features import Feature
from support.walk import trail_of, walk

pytestmark = pytest.mark.thorough

EXACT = Doubts(seating=NOTHING, spindle_growth=NOTHING)
"""On this machine nothing is one-sided, so nothing is to be corrected for."""

PLACE = Position(150.0, 100.0, -50.0)


def lengths(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda value: round(value, 3))


@st.composite
def plates(draw: st.DrawFn) -> Plate:
    recess_a, recess_b = draw(lengths(20.0, 60.0)), draw(lengths(20.0, 60.0))
    lip_a, lip_b = draw(lengths(4.0, 15.0)), draw(lengths(4.0, 15.0))
    top, deep = draw(lengths(2.0, 8.0)), draw(lengths(3.0, 8.0))
    bolt = None
    if draw(st.booleans()):
        bolt = Bolt(
            draw(lengths(-lip_a, recess_a)),
            draw(lengths(-lip_b, recess_b)),
            draw(lengths(1.0, 4.0)),
            draw(lengths(1.0, 9.0)),
        )
    return Plate(
        name="any",
        size_a=recess_a + lip_a,
        size_b=recess_b + lip_b,
        height=top + deep,
        recess_a=recess_a,
        recess_b=recess_b,
        recess_depth=deep,
        relief_radius=draw(st.sampled_from([0.0, 1.5, 3.0])),
        relief_through=draw(st.booleans()),
        bolt=bolt,
    )


@st.composite
def tools(draw: st.DrawFn) -> Tool:
    diameter = draw(lengths(1.0, 12.0))
    tip = draw(st.sampled_from([Tip.FLAT, Tip.FLAT, Tip.BALL, Tip.V, Tip.HOLLOW]))
    free_length = draw(lengths(8.0 + diameter, 40.0))
    return Tool(
        name="any",
        diameter=diameter,
        free_length=free_length,
        tip=tip,
        shank=draw(st.none() | lengths(diameter, diameter + 6.0)),
        clip_height=draw(st.none() | lengths(6.0, free_length)),
        nut_height=free_length + 5.0,
    )


@st.composite
def spots(draw: st.DrawFn) -> TopSpot:
    direct = draw(st.integers(0, 3)) == 0
    stock = Stock(
        size_x=draw(lengths(30.0, 100.0)),
        size_y=draw(lengths(30.0, 100.0)),
        thickness=draw(lengths(5.0, 30.0)),
        jaw_height=draw(st.sampled_from([0.0, 2.0, 4.5])),
        conductive=direct,
    )
    return TopSpot(
        tool=draw(tools()),
        stock=stock,
        place=PLACE if draw(st.booleans()) else Above(draw(lengths(2.0, 15.0))),
        within=draw(lengths(0.1, 1.2)),
        corner=draw(st.sampled_from(Corner)),
        plate=None if direct else draw(plates()),
        placement=draw(st.sampled_from(Placement)),
    )


ENVELOPE = Box(Position(0.0, 0.0, -90.0), Position(300.0, 220.0, 30.0))


@st.composite
def cases(draw: st.DrawFn) -> tuple[TopSpot, MockAdapter, Site]:
    """A spot, a machine whose blank truly lies where the spot's doubt allows, and where the tool stands."""
    spot = draw(spots())
    adapter = MockAdapter(seed=draw(st.integers(0, 10**6)), ideal=True, envelope=ENVELOPE)
    high = 30.0 if isinstance(spot.place, Position) else draw(lengths(-40.0, -20.0))
    here = Position(draw(lengths(100.0, 200.0)), draw(lengths(80.0, 140.0)), high)
    return spot, adapter, Site(facts=adapter.facts, here=here, doubts=EXACT)


def planned(routine: Any, adapter: MockAdapter, site: Site, *, share: float = 1.0) -> PlannedCourse:
    """The course, its blank on the table, off by a share of the doubt; what is refused is no case."""
    try:
        course = routine.plan(site)
    except PlanFault as refused:
        event(type(refused).__name__)
        reject()
    spot = routine.spot
    adapter.stage(
        Scene(
            name="any",
            place=spot.corner_place(site.here),
            corner=spot.corner,
            stock=spot.stock,
            tool=spot.tool,
            plate=spot.plate,
            placement=spot.placement,
            within=share * spot.within,
        )
    )
    return course


@st.composite
def routines(draw: st.DrawFn) -> tuple[Surface | OutsideCorner, MockAdapter, Site]:
    spot, adapter, site = draw(cases())
    if draw(st.booleans()) and spot.placement is Placement.SEATED:
        return OutsideCorner(spot=spot, flute_faced=True, assure_lead=draw(st.booleans())), adapter, site
    return Surface(spot=spot), adapter, site


MANY = settings(max_examples=80, suppress_health_check=[HealthCheck.filter_too_much], deadline=None)


@MANY
@given(routines())
def test_no_leg_meets_anything_and_no_sense_meets_anything_before_its_window(case):
    """Tried against the virtual machine's own solids: every leg is free, every sense meets what it looks for."""
    routine, adapter, site = case
    pieces, _, faces = walk(planned(routine, adapter, site), site.here, adapter)
    for piece in pieces:
        if not piece.senses:
            assert piece.met is None, f"{piece.name}: a leg from {piece.start} to {piece.end} meets {piece.met}"
        else:
            assert piece.met is not None, f"{piece.name}: nothing to touch from {piece.start} to {piece.end}"
            along = piece.met.minus(piece.touch.start).length()
            assert piece.touch.near - 1e-6 <= along <= piece.touch.far + 1e-6
            assert piece.end.distance(piece.met) <= routine.spot.tool.miss_limit + 1e-6
    assert len(faces) == sum(piece.senses for piece in pieces)


@MANY
@given(routines())
def test_what_is_concluded_is_where_the_stock_truly_lies(case):
    """From any contact, plate, tool and corner the origin found is the stock's true corner."""
    routine, adapter, site = case
    _, step, _ = walk(planned(routine, adapter, site), site.here, adapter)
    assert isinstance(step, Finding)
    for axis, value in step.axes:
        assert value == pytest.approx(adapter.true_corner[axis], abs=1e-6)


@MANY
@given(routines())
def test_before_the_first_touch_every_level_leg_is_at_the_top_and_nothing_but_the_sense_goes_down(case):
    """The tool's length is unknown until it has touched a flat."""
    routine, adapter, site = case
    pieces, _, _ = walk(planned(routine, adapter, site), site.here, adapter)
    for piece in takewhile(lambda piece: not piece.senses, pieces):
        assert piece.end.z >= piece.start.z, "a leg goes down"
        if piece.start[:2] != piece.end[:2]:
            assert piece.start.z == piece.end.z == ENVELOPE.high.z


@MANY
@given(routines())
def test_the_trail_leads_back_over_free_points_along_ways_already_gone(case):
    """Each piece between two points of the trail was travelled, so it is free."""
    routine, adapter, site = case
    course = planned(routine, adapter, site)
    pieces, _, faces = walk(course, site.here, adapter)
    gone = [(piece.start, piece.end) for piece in pieces if piece.met is None]
    for touch, trail in trail_of(course, faces):
        gone.append((touch.start, touch.exit))
        for later, earlier in pairwise(reversed(trail)):
            assert any(_covers(way, later) and _covers(way, earlier) for way in gone), f"{later} to {earlier}"


def _covers(way: tuple[Position, Position], point: Position) -> bool:
    """Whether a point lies on a way that was gone."""
    start, end = way
    return start.distance(point) + point.distance(end) <= start.distance(end) + 1e-6


@MANY
@given(routines(), st.floats(-1.0, 1.0))
def test_no_face_that_may_be_found_leads_out_of_the_envelope_that_was_checked(case, share):
    """Whatever the first face is, within its window, the moves after it stay where the preflight put them."""
    routine, _, site = case
    try:
        course = routine.plan(site)
    except PlanFault:
        reject()
    top = course.next(())
    along = (top.near + top.far) / 2.0 + share * (top.far - top.near) / 2.0
    face = Face(top.name, top.start.plus(top.direction.times(along)), top.direction, ())
    checked = moves(course, site.here)
    for step in course.foreseen((face,)):
        if isinstance(step, Touch):
            for point in (*(leg.to for leg in step.legs), step.start, step.end):
                assert any(_within(point, move) for move in checked)


def _within(point: Position, move: Move) -> bool:
    low, high = move.start.minus(move.start_doubt), move.start.plus(move.start_doubt)
    end_low, end_high = move.end.minus(move.end_doubt), move.end.plus(move.end_doubt)
    return all(
        min(low[axis], end_low[axis]) - 1e-9 <= point[axis] <= max(high[axis], end_high[axis]) + 1e-9
        for axis in Axis
    )


@st.composite
def keep_outs(draw: st.DrawFn) -> KeepOut:
    x, y = draw(lengths(90.0, 200.0)), draw(lengths(60.0, 150.0))
    height = draw(st.none() | lengths(-15.0, 25.0))
    return KeepOut(
        name="clamp",
        low=(x, y),
        high=(x + draw(lengths(2.0, 30.0)), y + draw(lengths(2.0, 30.0))),
        height_above_stock=height,
    )


@MANY
@given(routines(), keep_outs(), st.booleans())
def test_nothing_of_the_tool_ever_comes_into_a_keep_out(case, keep_out, length_known):
    """Tried point by point: the widest part stays beside it, or, the length known, the tip above it."""
    routine, adapter, site = case
    site = replace(site, keep_outs=(keep_out,), length_known=length_known)
    pieces, _, _ = walk(planned(routine, adapter, site), site.here, adapter)
    tool, known = routine.spot.tool, length_known
    wide = max(tool.radius, (tool.shank or 0.0) / 2.0, *(around.radius for around in tool.obstructions))
    height = keep_out.height_above_stock
    top = math.inf if height is None else adapter.true_corner.z + height
    for piece in pieces:
        rises = piece.start[:2] == piece.end[:2] and piece.end.z > piece.start.z
        for share in () if rises else (index / 40.0 for index in range(41)):
            x, y, z = piece.start.plus(piece.end.minus(piece.start).times(share))
            aside = max(keep_out.low[0] - x, 0.0, x - keep_out.high[0])
            ahead = max(keep_out.low[1] - y, 0.0, y - keep_out.high[1])
            assert math.hypot(aside, ahead) >= wide or (known and z >= top), f"{piece.name} at {(x, y, z)}"
        known = known or piece.senses


# ---- what is milled into the stock, or stands on it ---------------------------------------------------------


@st.composite
def feature_routines(draw: st.DrawFn) -> tuple[Routine, Feature, tuple[float, float], MockAdapter, Site]:
    """A routine, its feature, where it should be found, and a machine whose blank can get it."""
    bare = replace(draw(spots()), plate=None, placement=Placement.SEATED)
    size_x, size_y = draw(lengths(70.0, 110.0)), draw(lengths(70.0, 110.0))
    stock = Stock(size_x=size_x, size_y=size_y, thickness=draw(lengths(12.0, 30.0)), conductive=True)
    spot = replace(bare, stock=stock, within=draw(lengths(0.1, 0.7)))
    centre = (draw(lengths(30.0, size_x - 30.0)), draw(lengths(30.0, size_y - 30.0)))
    sizes, high = (draw(lengths(12.0, 56.0)), draw(lengths(12.0, 56.0))), draw(lengths(4.0, 11.0))
    touches, axis = draw(st.integers(3, 8)), draw(st.sampled_from([Axis.X, Axis.Y]))
    which = draw(st.sampled_from(Corner))
    width, length = sizes if axis is Axis.X else (sizes[1], sizes[0])
    corner = tuple(
        middle - size / 2.0 * which.inward[n] * spot.corner.inward[n]
        for n, (middle, size) in enumerate(zip(centre, sizes, strict=True))
    )
    hollow, island = Pocket(*centre, *sizes, high), Island(*centre, *sizes, high)
    makers: dict[str, tuple[Callable[[], Routine], Feature, tuple[float, ...]]] = {
        "bore": (
            lambda: BoreCentre(spot=spot, centre=centre, diameter=sizes[0], deep=high, touches=touches),
            Bore(*centre, sizes[0], high),
            centre,
        ),
        "boss": (
            lambda: BossCentre(spot=spot, centre=centre, diameter=sizes[0], height=high, touches=touches),
            Boss(*centre, sizes[0], high),
            centre,
        ),
        "pocket": (lambda: PocketMiddle(spot=spot, centre=centre, sizes=sizes, deep=high), hollow, centre),
        "slot": (
            lambda: SlotMiddle(spot=spot, axis=axis, centre=centre, width=width, length=length, deep=high),
            hollow,
            centre,
        ),
        "block": (lambda: BlockMiddle(spot=spot, centre=centre, sizes=sizes, height=high), island, centre),
        "rib": (
            lambda: RibMiddle(spot=spot, axis=axis, centre=centre, width=width, length=length, height=high),
            island,
            centre,
        ),
        "inside corner": (
            lambda: InsideCorner(spot=spot, at=corner, which=which, sizes=sizes, deep=high),
            hollow,
            corner,
        ),
    }
    kind = draw(st.sampled_from(sorted(makers)))
    make, feature, where = makers[kind]
    adapter = MockAdapter(seed=draw(st.integers(0, 10**6)), ideal=True, envelope=WIDE)
    return (
        make(),
        feature,
        where,
        adapter,
        Site(facts=adapter.facts, here=Position(140.0, 110.0, 30.0), doubts=EXACT),
    )


WIDE = Box(Position(-60.0, -60.0, -90.0), Position(360.0, 280.0, 30.0))


@MANY
@given(feature_routines())
def test_every_feature_is_found_where_it_is_and_nothing_is_met_on_the_way(case):
    """The plan's legs are free, its senses meet their walls, and the middle or corner found is the true one."""
    routine, feature, where, adapter, site = case
    course = planned(routine, adapter, site, share=0.6)
    adapter.mill(feature)
    pieces, step, _ = walk(course, site.here, adapter)
    for piece in pieces:
        assert (piece.met is not None) == piece.senses, f"{piece.name}: {piece.start} to {piece.end}"
    assert isinstance(step, Finding)
    for axis, value in step.axes:
        true = adapter.true_corner[axis] + routine.spot.corner.inward[axis] * where[axis]
        assert value == pytest.approx(true, abs=1e-6)


@MANY
@given(feature_routines())
def test_inside_a_hollow_the_tool_moves_at_depth_only_on_lines_it_has_sensed(case):
    """But for the way straight down and up again."""
    routine, feature, _, adapter, site = case
    course = planned(routine, adapter, site, share=0.6)
    adapter.mill(feature)
    pieces, _, _ = walk(course, site.here, adapter)
    sensed = [(piece.start, piece.met) for piece in pieces if piece.senses and piece.met is not None]
    rim = adapter.true_corner.z
    for piece in pieces:
        level, deep = piece.start.z == piece.end.z, piece.end.z < rim
        if level and deep and not piece.senses and piece.start != piece.end and isinstance(feature, Bore | Pocket):
            assert any(_covers(way, piece.start) and _covers(way, piece.end) for way in sensed)
