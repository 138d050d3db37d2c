"""Which touches, in which order, and what they mean. Every routine is planned and checked before anything moves."""

from gingerly.routines.bore_centre import BoreCentre
from gingerly.routines.boss_centre import BossCentre
from gingerly.routines.course import PlannedCourse, Routine, Site
from gingerly.routines.edge_skew import EdgeSkew
from gingerly.routines.inside_corner import InsideCorner
from gingerly.routines.one_spot import ReactionTime, Repeatability
from gingerly.routines.outside_corner import OutsideCorner
from gingerly.routines.plate_calibration import PlateCalibration
from gingerly.routines.rib_middle import BlockMiddle, RibMiddle
from gingerly.routines.single_edge import SingleEdge
from gingerly.routines.skewed_corner import SkewedCorner
from gingerly.routines.slot_middle import PocketMiddle, SlotMiddle
from gingerly.routines.stop_test import StopTest
from gingerly.routines.surface import Surface
from gingerly.routines.surface_grid import SurfaceGrid
from gingerly.routines.tool_change import ToolChange
from gingerly.routines.tool_diameter import ToolDiameter
from gingerly.routines.top import Above, TopSpot
from gingerly.routines.verify import Verify

__all__ = [
    "Above",
    "BlockMiddle",
    "BoreCentre",
    "BossCentre",
    "EdgeSkew",
    "InsideCorner",
    "OutsideCorner",
    "PlannedCourse",
    "PlateCalibration",
    "PocketMiddle",
    "ReactionTime",
    "Repeatability",
    "RibMiddle",
    "Routine",
    "SingleEdge",
    "Site",
    "SkewedCorner",
    "SlotMiddle",
    "StopTest",
    "Surface",
    "SurfaceGrid",
    "ToolChange",
    "ToolDiameter",
    "TopSpot",
    "Verify",
]
