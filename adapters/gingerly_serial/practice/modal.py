"""The modal state of the practice controller, and what a line means in it (NISTIR 6556; sections in brackets)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from gingerly.geometry import ORIGIN, Axis, Position
from gingerly_mock.machine import Machine
from gingerly_serial.practice.blocks import GROUPS, BadBlock, Block

INCH = 25.4
"""Millimetres in an inch, exactly."""

START = {"distance": "90", "feed mode": "94", "units": "21", "system": "54", "plane": "17"}
UNTAUGHT = {"2", "3", "81", "82", "83", "84", "85", "86", "87", "88", "89", "28", "30", "43", "41", "42"}
"""Words of the report that the practice controller declines."""


class Modal:
    """What is in force: the words of each modal group, the motion, and the feed (mm/min)."""

    def __init__(self, machine: Machine) -> None:
        self._machine = machine
        self.words = dict(START)
        self.motion = "80"
        self.feed = 0.0

    @property
    def unit(self) -> float:
        """How many mm a length of one is."""
        return INCH if self.words["units"] == "20" else 1.0

    @property
    def origin(self) -> Position:
        """The origin of the work system in force, shift included (mm)."""
        system = GROUPS["system"].index(self.words["system"]) + 1
        return self._machine.offsets[system].plus(self._machine.in_force.shift or ORIGIN)

    def check(self, block: Block) -> None:
        """Raise `BadBlock` for what the report forbids, or what is not taught here."""
        for code in block.g.values():
            if code in UNTAUGHT:
                raise BadBlock("untaught", f"G{code} is not taught here")
        other, axes = block.g.get("other"), block.axes
        if "motion" in block.g and other in ("10", "28", "30", "92") and axes:
            raise BadBlock("group", "two codes on one line want the axis words")
        if other == "53" and (block.g.get("motion", self.motion) not in ("0", "1") or not axes):
            raise BadBlock("machine", "G53 needs G0 or G1, and an axis word")
        if other == "4" and block.words.get("P", -1.0) < 0.0:
            raise BadBlock("dwell", "a dwell needs P, not negative")
        if block.g.get("motion", self.motion) == "80" and axes and other is None:
            raise BadBlock("motion", "axis words without a motion")
        if block.g.get("motion") in ("0", "1", "38.2") and not axes:
            raise BadBlock("axis", "a motion without an axis word")

    def take(self, block: Block) -> None:
        """Take up the modal words of a line, in the report's order [Table 8]."""
        if "feed mode" in block.g:
            self.words["feed mode"] = block.g["feed mode"]
        if "F" in block.words:
            # F is read in the units in force before this line's G20 or G21.
            self.feed = block.words["F"] * self.unit
        if "spindle" in block.m:
            self._machine.turning = block.m["spindle"] != 5
        for group in ("plane", "units", "system", "distance", "path", "radius", "length", "return"):
            if group in block.g:
                self.words[group] = block.g[group]
        if "units" in block.g:
            self._machine.in_force = replace(self._machine.in_force, inch=block.g["units"] == "20")
        if block.m.get("stop") in (2, 30):
            # [3.6.1]
            self.words |= START | {"units": self.words["units"]}
            self.motion = "1"

    def target(self, axes: Mapping[str, float], *, absolute: bool) -> Position:
        """Return where a move leads, in machine coordinates (mm)."""
        here, unit, origin = self._machine.position, self.unit, self.origin
        found = list(here)
        for axis, letter in enumerate("XYZ"):
            if letter not in axes:
                continue
            value = axes[letter] * unit
            if not absolute:
                value += here[axis] if self.words["distance"] == "91" else origin[axis]
            found[axis] = value
        return Position(*found)

    def lengths(self, block: Block) -> dict[Axis, float]:
        """Return the axis words of a line, in mm."""
        return {Axis("XYZ".index(letter)): value * self.unit for letter, value in block.axes.items()}

    def shift(self, block: Block, code: str) -> None:
        """Shift the origin, or cancel a shift [3.5.18]: with G92 the current point then reads as given."""
        machine, moved = self._machine, ORIGIN
        if code == "92":
            reads = machine.position.minus(self.origin)
            change = {axis: reads[axis] - value for axis, value in self.lengths(block).items()}
            moved = (machine.in_force.shift or ORIGIN).plus(ORIGIN.with_axes(change))
        machine.in_force = replace(machine.in_force, shift=moved)
