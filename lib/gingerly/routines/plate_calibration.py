"""Plate calibration: the plate's top and lips where they are touched, against the bare block it sits on.

::

        from above, plate at the front left        from the side

        │      ← bare wall X                        ═════╗ top        Z of the plate
        ├─────┐                                     ═╗   ║ ┌────────  Z of the block
        │plate│   (bare Z)                           ╚═══╝ │ block
        O─────┴──────   ↑ bare wall Y

The same tool touches both, so its radius, its length and its runout cancel. Skew does not: the walls are bare only
beyond the plate. Lay the block along the axes as well as you can, and say in the job how well.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from gingerly.budgets.doubts import NOTHING
from gingerly.geometry import SLACK, Axis, Position
from gingerly.messages.faults import StartOutsideWindow, UnsuitablePlate
from gingerly.messages.touches import Finding, Leg, Measures, Metal, Place, Step, Touch
from gingerly.plate import MEASURED_WITHIN, Plate
from gingerly.routines.course import Faces, PlannedCourse, Site, StepMaker
from gingerly.routines.preflight import ROOM, check_course, sought
from gingerly.routines.top import SENSE_MARGIN, TopSpot
from gingerly.routines.walls import DIRECT_CHAMFER, CornerWalls, Outside, other_axis, wall_depth


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateCalibration:
    """Touch a seated plate and the bare, conductive block beside it, and find its top and its lips (mm).

    Nothing is written. The plate's nominal sizes must be right within half a millimetre.
    """

    spot: TopSpot
    assure_lead: bool = True

    def plan(self, site: Site) -> PlannedCourse:
        """Return the course for this site; raises a `PlanFault` where it must not begin."""
        plate = self._plate()
        walls = CornerWalls(self.spot, may_face=False)
        on_plate = walls.outside(site)
        bare_depth = wall_depth(
            self.spot,
            chamfer=DIRECT_CHAMFER,
            wall_height=self.spot.stock.proud - self.spot.within,
            face_height=self.spot.stock.thickness,
            flute_faced=False,
        )
        on_block = replace(on_plate, depth=plate.top + bare_depth, within=MEASURED_WITHIN)
        bare = [self._bare(axis) for axis in (Axis.X, Axis.Y)]
        makers: tuple[StepMaker, ...] = (
            lambda faces: walls.wall(site, on_plate, faces, Axis.X),
            lambda faces: self._bare_wall(site, on_block, faces, Axis.X, bare[1], faces[1].position),
            lambda faces: self._bare_top(site, on_plate.top, faces, (bare[0], bare[1])),
            lambda faces: walls.wall(site, on_plate, faces, Axis.Y),
            lambda faces: self._bare_wall(site, on_block, faces, Axis.Y, bare[0], faces[4].position),
        )
        course = PlannedCourse(
            name="plate calibration",
            tool=self.spot.tool,
            places=(Place.TIP, Place.FLANK, Place.STOCK),
            steps=on_plate.steps(site, makers, self._conclude, assure_lead=self.assure_lead),
        )
        stock_top = self.spot.corner_place(site.here).z
        checked = check_course(course, site, stock_top=stock_top, within=self.spot.within)
        return sought(checked, thickness=NOTHING, lip=NOTHING)

    def _plate(self) -> Plate:
        plate = self.spot.plate
        if plate is None:
            raise UnsuitablePlate("there is no plate to be measured")
        if not self.spot.stock.conductive:
            raise UnsuitablePlate("the block that the plate is measured against does not conduct")
        return plate

    def _bare(self, axis: Axis) -> float:
        """Return how far along `axis` from the corner the block is bare; raises where it ends too soon."""
        spot, plate = self.spot, self._plate()
        covered = plate.wall_length(spot.corner, other_axis(axis))
        bare = covered + spot.tool.radius + spot.within + ROOM + MEASURED_WITHIN
        needed = bare + spot.tool.radius + spot.within + ROOM
        size = (spot.stock.size_x, spot.stock.size_y)[axis]
        if size < needed - SLACK:
            raise StartOutsideWindow(
                f"the block is {size:.3f} mm long along {axis.name}, the plate covers {covered:.3f} mm, and"
                f" {needed:.3f} mm are needed: {needed - size:.3f} mm too little"
            )
        return bare

    def _bare_wall(
        self, site: Site, on_block: Outside, faces: Faces, axis: Axis, along: float, lip: Position
    ) -> Touch:
        """Return the touch of the block's own wall, a lip's width beyond where the lip was touched."""
        walls = CornerWalls(self.spot)
        inward = self.spot.corner.inward
        at = walls.expected(site, axis, along).with_axes({axis: lip[axis] + inward[axis] * walls.lip(axis)})
        arm = along * inward[other_axis(axis)]
        return on_block.touch(f"bare {axis.name} wall", faces, at, walls.inward(axis), beside=arm)

    def _bare_top(self, site: Site, top: Touch, faces: Faces, place: tuple[float, float]) -> Touch:
        """Return the touch of the block's own top, a plate's thickness below where the plate was touched."""
        spot = self.spot
        hop = spot.point(site.here, *place)._replace(z=top.exit.z)
        standoff = hop.z - faces[0].position.z + self._plate().top
        return replace(
            top,
            name="bare top",
            legs=(Leg(hop, top.plan.leave_feed),),
            start=hop,
            end=hop._replace(z=hop.z - standoff - MEASURED_WITHIN - SENSE_MARGIN),
            near=standoff - MEASURED_WITHIN,
            far=standoff + MEASURED_WITHIN,
            exit=hop,
            metal=Metal(),
        )

    def _conclude(self, faces: Faces) -> Step:
        top, lip_x, bare_x, bare_top, lip_y, bare_y = faces
        found = {Axis.X: bare_x.position.x - lip_x.position.x, Axis.Y: bare_y.position.y - lip_y.position.y}
        lips = {axis: value * self.spot.corner.inward[axis] for axis, value in found.items()}
        a, b = (Axis.X, Axis.Y) if self.spot.corner.quarter_turns % 2 == 0 else (Axis.Y, Axis.X)
        measures: Measures = (
            ("top", top.position.z - bare_top.position.z),
            ("lip a", lips[a]),
            ("lip b", lips[b]),
        )
        return Finding((), measures)
