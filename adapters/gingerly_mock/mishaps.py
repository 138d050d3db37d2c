"""How each happening changes the virtual machine and its world: one small function each, in one table.

Only what changes the machine or the world is here. What shapes a single call (refusals, answers that get lost,
a broken link) is the adapter's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from gingerly.geometry import ORIGIN, Axis, Position
from gingerly_mock.faults import Happening, What
from gingerly_mock.machine import Machine


def suffer(machine: Machine, happening: Happening) -> None:
    """Let something happen to the machine; what shapes only a call is left to the adapter."""
    effect = EFFECTS.get(happening.what)
    if effect is not None:
        effect(machine, happening)


def _lead_off(machine: Machine, happening: Happening) -> None:
    machine.wiring.lead_on = False


def _chip(machine: Machine, happening: Happening) -> None:
    run = machine.run
    here = machine.position if run is None else run.position(machine.clock.now() - run.began)
    machine.wiring.chip_at, machine.wiring.chip_reach = here, happening.amount


def _noise(machine: Machine, happening: Happening) -> None:
    machine.wiring.noise_until = machine.clock.now() + happening.size


def _bounce(machine: Machine, happening: Happening) -> None:
    if machine.touching and machine.run is None:
        machine.wiring.flaky = True
    else:
        machine.bounce_next = True


def _anodised(machine: Machine, happening: Happening) -> None:
    machine.wiring.anodised = True


def _plate_slides(machine: Machine, happening: Happening) -> None:
    machine.slide = happening.size


def _plate_lifts(machine: Machine, happening: Happening) -> None:
    machine.world.shift = machine.world.shift.plus(Position(0.0, 0.0, happening.size))
    machine.world.rebuild()


def _circuit_unknown(machine: Machine, happening: Happening) -> None:
    machine.circuit_told = False


def _spindle_starts(machine: Machine, happening: Happening) -> None:
    machine.turning = True


def _alarm(machine: Machine, happening: Happening) -> None:
    machine.stop()
    machine.alarm = happening.detail or "alarm on request"


def _alarm_on_miss(machine: Machine, happening: Happening) -> None:
    machine.alarm_on_miss = True


def _restart(machine: Machine, happening: Happening) -> None:
    machine.halt()
    machine.restarts += 1
    machine.homed = False
    machine.alarm = ""


def _restart_forgetting(machine: Machine, happening: Happening) -> None:
    _restart(machine, happening)
    machine.offsets = dict.fromkeys(machine.offsets, ORIGIN)


def _position_jump(machine: Machine, happening: Happening) -> None:
    machine.halt()
    machine.position = machine.axes.snap(machine.position.plus(_along(happening)))
    machine.forget_touch()


def _lost_steps(machine: Machine, happening: Happening) -> None:
    machine.axes.lose(_along(happening))
    machine.forget_touch()


def _homing_lost(machine: Machine, happening: Happening) -> None:
    machine.homed = False


def _foreign_state(machine: Machine, happening: Happening) -> None:
    amount, now = happening.size, machine.in_force
    machine.in_force = {
        "shift": replace(now, shift=_along(happening)),
        "tool length": replace(now, tool_length=amount),
        "override": replace(now, override=amount),
        "rotation": replace(now, rotation=amount),
        "inch": replace(now, inch=True),
    }[happening.detail]


def _along(happening: Happening) -> Position:
    return ORIGIN.with_axes({Axis["XYZ"["xyz".index(happening.axis)]]: happening.size})


EFFECTS: dict[What, Callable[[Machine, Happening], None]] = {
    What.LEAD_OFF: _lead_off,
    What.CHIP: _chip,
    What.NOISE: _noise,
    What.BOUNCE: _bounce,
    What.ANODISED: _anodised,
    What.PLATE_SLIDES: _plate_slides,
    What.PLATE_LIFTS: _plate_lifts,
    What.CIRCUIT_UNKNOWN: _circuit_unknown,
    What.SPINDLE_STARTS: _spindle_starts,
    What.ALARM: _alarm,
    What.ALARM_ON_MISS: _alarm_on_miss,
    What.RESTART: _restart,
    What.RESTART_FORGETTING: _restart_forgetting,
    What.POSITION_JUMP: _position_jump,
    What.LOST_STEPS: _lost_steps,
    What.HOMING_LOST: _homing_lost,
    What.FOREIGN_STATE: _foreign_state,
}
"""What changes machine or world."""
