"""Which touches, in which order, and what they mean. Every routine is planned and checked before anything moves."""

from gingerly.routines.course import PlannedCourse, Routine, Site
from gingerly.routines.outside_corner import OutsideCorner
from gingerly.routines.surface import Surface
from gingerly.routines.tool_change import ToolChange
from gingerly.routines.top import Above, TopSpot

__all__ = ["Above", "OutsideCorner", "PlannedCourse", "Routine", "Site", "Surface", "ToolChange", "TopSpot"]
