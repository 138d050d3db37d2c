"""The virtual machine's table: where stock, plate and tool truly are.

All draws depend on the seed and on names (of scene, plate, tool), never on the order of events, so the same blank
staged twice lies in the same place. Everything solid is held in one frame: its origin is the stock's true corner
on the top face, its axes (a, b) are those of the plate, turned by the stock's true skew and by the corner's
quarter turns.

The controlled point is the spindle's axis at the height where the *first* tool's tip would be: a tool's
`true_length` is how much longer it is than the first one loaded: its tip is that much below the controlled point.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import lru_cache

from gingerly.driver.adapter import Scene
from gingerly.geometry import ORIGIN, Corner, Position
from gingerly.plate import Placement, Plate
from gingerly.tool import Tool
from gingerly.uncertainty.dice import drawn
from gingerly_mock.features import Feature, asked_for, shaped
from gingerly_mock.imperfections import imperfections
from gingerly_mock.options import Options
from gingerly_mock.profile import Profile
from gingerly_mock.solids import (
    EPS,
    NOWHERE,
    Block,
    Crossing,
    covers,
    level_crossings,
    sink_depth,
    slanted_crossings,
)


class Metal(IntEnum):
    """What a block is made of, as far as the circuit cares."""

    DEAD = 0
    """Insulating: wood, plastic, or stock that is not wired."""
    STOCK = 1
    PLATE = 2


Span = tuple[float, float, int]
"""Where a line lies inside a block: from, to (mm along the line, the first negative if it began inside), metal."""


@dataclass(frozen=True, slots=True)
class TrueTool:
    """What a tool really is: `true_radius`, `true_length` beyond the first tool's (mm); angles in radians."""

    tool: Tool
    true_radius: float
    true_length: float
    runout_rad: float
    flute_rad: float


def chance(seed: int | str, *names: str) -> random.Random:
    """Return the source of random numbers that belongs to these names alone."""
    return random.Random("/".join((str(seed), *names)))


class World:
    """The true things on the table, and where a moving tool meets them."""

    def __init__(self, options: Options) -> None:
        self._options = options
        self._true = imperfections(options)
        self.scene: Scene | None = None
        self.feature: Feature | None = None
        """What is milled into the stock, or left standing on it; None for a plain blank."""
        self.true_tool: TrueTool | None = None
        self.first_tool = ""
        self.true_yaw = 0.0
        self.true_origin = ORIGIN
        self.plate_in_place = False
        self.shift = ORIGIN
        self.turn_before_next_wall = False
        self._turned = 0.0
        self._blocks: tuple[Block, ...] = ()
        self._profile: Profile | None = None
        self._cos, self._sin = 1.0, 0.0
        self._offset_x = self._offset_y = 0.0
        self._base = self._ceiling = 0.0
        self.true_plate = (0.0, 0.0, 0.0)
        self._seat = (0.0, 0.0, 0.0)
        self._form = (0.0, 0.0, 0.0)
        self._bulges: list[tuple[float, float]] = []

    # ---- what is there --------------------------------------------------------------------------------

    def stage(self, scene: Scene) -> Position:
        """Return where the stock's corner truly is, as the controlled point for the tool now loaded (mm).

        Clamps the scene's blank, lays its plate on, and changes to its tool.
        """
        dice = chance(self._options.seed, "scene", scene.name)
        away = [dice.uniform(-scene.within, scene.within) for _ in range(3)]
        self.scene = scene
        self.feature = asked_for(scene.feature) if scene.feature is not None else None
        self.true_origin = scene.place.plus(Position(away[0], away[1], away[2]))
        self.true_yaw = dice.uniform(-scene.skew, scene.skew)
        gap, form = self._true.seating, self._true.form
        seat = [drawn(dice, gap) for _ in range(2)]
        bulge = [drawn(dice, form) for _ in range(2)]
        self._seat = (seat[0], seat[1], drawn(dice, gap))
        self._form = (bulge[0], bulge[1], drawn(dice, form))
        if self._options.doubts is not None and scene.skew == 0.0:
            self.true_yaw = drawn(dice, self._true.skew)
        if self.feature is not None:  # it is the feature that lies within, and the corner wherever skew puts it
            away_x, away_y = self.feature.x * scene.corner.inward[0], self.feature.y * scene.corner.inward[1]
            centre = Position(away_x, away_y, 0.0)
            self.true_origin = self.true_origin.plus(centre).minus(centre.turned(self.true_yaw))
        self._bulges = []
        self.true_plate = self._measure(scene.plate)
        self.shift = ORIGIN
        self.plate_in_place = scene.plate is not None
        self.load(scene.tool)
        self.rebuild()
        return self.true_corner

    def load(self, tool: Tool) -> None:
        """Put a tool into the spindle, whatever moves or not; the same tool again changes nothing."""
        if self.true_tool is not None and self.true_tool.tool == tool:
            return
        self.first_tool = self.first_tool or tool.name
        options = self._options
        dice = chance(options.seed, "tool", tool.name)
        length = dice.uniform(-options.tool_length_range, options.tool_length_range)
        self._turned = 0.0
        self.turn_before_next_wall = False
        self.true_tool = TrueTool(
            tool=tool,
            true_radius=tool.radius + drawn(dice, self._true.radius),
            true_length=0.0 if tool.name == self.first_tool else length,
            runout_rad=dice.uniform(0.0, 2.0 * math.pi),
            flute_rad=dice.uniform(0.0, 2.0 * math.pi),
        )

    @property
    def true_corner(self) -> Position:
        """Where the stock's corner truly is, as the controlled point for the tool now loaded, in mm."""
        length = self.true_tool.true_length if self.true_tool is not None else 0.0
        return self.true_origin.plus(Position(0.0, 0.0, length))

    @property
    def height(self) -> float:
        """How high the controlled point, for the tool now loaded, is above everything on the table, in mm."""
        return self._base + self._ceiling

    @property
    def stock_conducts(self) -> bool:
        """Whether the stock itself can close the circuit."""
        return self.scene is not None and self.scene.stock.conductive

    def _measure(self, plate: Plate | None) -> tuple[float, float, float]:
        if plate is None:
            return (0.0, 0.0, 0.0)
        dice = chance(self._options.seed, "plate", plate.name)
        top = plate.top + drawn(dice, self._true.thickness)
        lip_a, lip_b = (size + drawn(dice, self._true.lip) for size in (plate.lip_a, plate.lip_b))
        return (top, lip_a, lip_b)

    def rebuild(self) -> None:
        """Work the blocks out again after plate, tool or stock have changed their place."""
        scene, true_tool = self.scene, self.true_tool
        if scene is None or true_tool is None:
            return
        quarter = scene.corner.quarter_turns
        cos, sin = math.cos(self.true_yaw), math.sin(self.true_yaw)
        for _ in range(quarter):
            cos, sin = -sin, cos
        self._cos, self._sin = cos, sin
        heading = self.true_yaw + quarter * math.pi / 2.0
        self._profile = _profile(
            true_tool.tool,
            true_radius=true_tool.true_radius,
            flute_rad=true_tool.flute_rad + self._turned,
            sides_rad=(heading, heading + math.pi, heading + math.pi / 2, heading - math.pi / 2),
        )
        runout = self._true.runout
        self._offset_x = runout * math.cos(true_tool.runout_rad + self._turned) - self.true_origin.x
        self._offset_y = runout * math.sin(true_tool.runout_rad + self._turned) - self.true_origin.y
        self._base = self.true_corner.z
        self._lay_out(scene)

    def _lay_out(self, scene: Scene) -> None:
        self._blocks = (*self._stock_blocks(scene), *self._plate_blocks(scene))
        self._ceiling = max(block.top for block in self._blocks)

    def _stock_blocks(self, scene: Scene) -> tuple[Block, ...]:
        size_a, size_b = scene.stock.size_x, scene.stock.size_y
        swapped = scene.corner.quarter_turns % 2 == 1
        if swapped:
            size_a, size_b = size_b, size_a
        metal = Metal.STOCK if scene.stock.conductive else Metal.DEAD
        plain = Block(self._form[0], size_a, self._form[1], size_b, self._form[2], metal)
        return (plain,) if self.feature is None else tuple(shaped(plain, self.feature, swapped=swapped))

    def _plate_blocks(self, scene: Scene) -> list[Block]:
        plate = scene.plate
        if plate is None or not self.plate_in_place:
            return []
        top, lip_a, lip_b = self.true_plate
        bolt, flipped = plate.bolt, scene.placement is Placement.FLIPPED
        # Upside down it would stand on its bolt; on stock that hardly stands proud it stands on its lips.
        lift = bolt.height if bolt is not None and flipped else 0.0
        if scene.placement is Placement.SEATED:
            lift = max(0.0, plate.recess_depth - scene.stock.proud)
        hole = plate.relief_radius if plate.relief_through else 0.0
        far_a, far_b, deep = plate.recess_a, plate.recess_b, plate.recess_depth
        if flipped:
            walls = [(-lip_a, 0.0, -lip_b, far_b), (0.0, far_a, -lip_b, 0.0)]
            floor = self._plate_block(scene, plate, (-lip_a, far_a, -lip_b, far_b), lift + top, hole)
            return [floor, *(self._plate_block(scene, plate, wall, lift + top + deep, hole) for wall in walls)]
        above = lift + (top + deep if scene.placement is Placement.FLAT else top)
        found = [self._plate_block(scene, plate, (-lip_a, far_a, -lip_b, far_b), above, hole)]
        if bolt is not None:
            spot = self._plate_block(scene, plate, (bolt.a, bolt.a, bolt.b, bolt.b), above + bolt.height, 0.0)
            found.append(replace(spot, round_by=bolt.radius))
        return found

    def _plate_block(
        self, scene: Scene, plate: Plate, sides: tuple[float, float, float, float], top: float, hole: float
    ) -> Block:
        """Return a part of the plate, given in plate coordinates, where it truly lies on the stock."""
        placement, (shift_a, shift_b, lift) = scene.placement, self.shift
        if placement is Placement.SEATED:
            shift_a += self._form[0] - self._seat[0]
            shift_b += self._form[1] - self._seat[1]
        # At the front left corner the machine's directions are those of this frame.
        low_a, high_a, low_b, high_b = sides
        one = plate.to_machine(Corner.FRONT_LEFT, low_a, low_b, placement)
        other = plate.to_machine(Corner.FRONT_LEFT, high_a, high_b, placement)
        relief = plate.to_machine(Corner.FRONT_LEFT, 0.0, 0.0, placement)
        return Block(
            min(one[0], other[0]) + shift_a,
            max(one[0], other[0]) + shift_a,
            min(one[1], other[1]) + shift_b,
            max(one[1], other[1]) + shift_b,
            top + lift + self._form[2] + self._seat[2],
            Metal.PLATE,
            hole=(relief[0] + shift_a, relief[1] + shift_b, hole) if hole > 0.0 else None,
        )

    def bulge(self, way: Position) -> float:
        """Return how far a feature's wall stands back where it is touched along `way`, in mm: its own form."""
        scene = self.scene
        if self.feature is None or scene is None or way.z != 0.0:
            return 0.0
        heading = math.degrees(math.atan2(way.y, way.x))
        # Touches of one spot differ by a motor step in their way: all of them feel the wall as the first one did.
        for known, form in self._bulges:
            if abs((heading - known + 180.0) % 360.0 - 180.0) < 1.0:
                return form
        form = drawn(chance(self._options.seed, "wall", scene.name, f"{heading % 360.0:.0f}"), self._true.form)
        self._bulges.append((heading, form))
        return form

    # ---- what happens to it ---------------------------------------------------------------------------

    def mill(self, feature: Feature) -> None:
        """Give the staged stock a feature, in place of any that it had."""
        self.feature = feature
        self.rebuild()

    def push_plate(self, direction: Position, distance: float) -> None:
        """Shift the plate by `distance` mm along a direction in machine coordinates."""
        a, b = self._turn(direction.x, direction.y)
        self.shift = self.shift.plus(Position(a, b, direction.z).times(distance))
        self.rebuild()

    def set_plate(self, *, in_place: bool) -> None:
        """Seat the plate where it belongs, or take it away."""
        scene = self.scene
        if scene is None or scene.plate is None or self.true_tool is None:
            return
        self.plate_in_place = in_place
        self.shift = ORIGIN if in_place else self.shift
        self._lay_out(scene)

    def turn_to_wall(self, x: float, y: float, z: float, direction: Position) -> None:
        """Turn the tool so that a flute faces the wall ahead, in the middle of the depth that will meet it."""
        self.turn_before_next_wall = False
        true_tool = self.true_tool
        if true_tool is None or true_tool.tool.flutes == 0:
            return
        depth = max(0.0, self._ceiling - (z - self._base))
        lead = 0.5 * depth * math.tan(true_tool.tool.helix) / true_tool.true_radius
        self._turned = math.atan2(direction.y, direction.x) - lead - true_tool.flute_rad
        self.rebuild()

    @property
    def true_runout(self) -> Position:
        """How far the loaded tool's axis truly stands beside the spindle's as it is turned now, in mm."""
        return Position(self._offset_x + self.true_origin.x, self._offset_y + self.true_origin.y, 0.0)

    def turn_half(self) -> None:
        """Turn the spindle by half a turn, and with it flutes and runout."""
        self._turned += math.pi
        self.rebuild()

    # ---- where a moving tool meets it -----------------------------------------------------------------

    def spans(self, start: Position, way: Position, length: float) -> tuple[Span, ...]:
        """Return where the controlled point, on the line from `start` along `way`, has the tool inside a solid.

        Only what begins before `length` and ends after the start, in order; distances in units of `way`.
        """
        x, y, z = start
        dx, dy, dz = way
        height = z - self._base
        ceiling = self._ceiling - EPS
        profile = self._profile
        if profile is None or (height >= ceiling and height + dz * length >= ceiling):
            return ()
        x, y, cos, sin = x + self._offset_x, y + self._offset_y, self._cos, self._sin
        a, b, da, db = cos * x + sin * y, cos * y - sin * x, cos * dx + sin * dy, cos * dy - sin * dx
        found: list[Span] = []
        for block in self._blocks:
            above = height - block.top
            if not dz:
                if above >= -EPS:
                    continue
                crossings = level_crossings(block, profile, profile.reach(-above), a, b, da, db)
            elif not da and not db:
                crossings = _plunge(block, profile, a, b, above, dz)
            else:
                crossings = slanted_crossings(block, profile, a, b, above, da, db, dz)
            for low, high in crossings:
                if high > EPS and low < length:
                    found.append((0.0 if -EPS < low < 0.0 else low, high, block.kind))
        if len(found) > 1:
            found.sort()
        return tuple(found)

    def touching(self, x: float, y: float, z: float) -> tuple[bool, bool]:
        """Return whether a tool at rest there is in touch with (conducting stock, plate)."""
        profile, stock, plate = self._profile, False, False
        height = z - self._base
        if profile is None or height >= self._ceiling - EPS:
            return False, False
        a, b = self._turn(x + self._offset_x, y + self._offset_y)
        for block in self._blocks:
            depth = block.top - height
            if block.kind and depth > EPS and covers(block, profile, a, b, depth):
                stock, plate = stock or block.kind == Metal.STOCK, plate or block.kind == Metal.PLATE
        return stock, plate

    def _turn(self, x: float, y: float) -> tuple[float, float]:
        return self._cos * x + self._sin * y, self._cos * y - self._sin * x


def _plunge(block: Block, profile: Profile, a: float, b: float, above: float, dz: float) -> list[Crossing]:
    depth = sink_depth(block, profile, a, b)
    if depth is None:
        return NOWHERE
    at = -(above + depth) / dz
    return [(at, math.inf)] if dz < 0.0 else [(-math.inf, at)]


@lru_cache(maxsize=64)
def _profile(
    tool: Tool, *, true_radius: float, flute_rad: float, sides_rad: tuple[float, float, float, float]
) -> Profile:
    return Profile(tool, true_radius=true_radius, flute_rad=flute_rad, sides_rad=sides_rad)
