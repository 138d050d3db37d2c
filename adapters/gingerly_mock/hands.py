"""Hands at the virtual machine: what a person's yes to a question truly changes, on the table and in the wiring."""

from __future__ import annotations

from gingerly.messages.commands import Question
from gingerly_mock.machine import Machine


def do(machine: Machine, question: Question) -> None:
    """Do at the virtual machine what a yes to the question says."""
    world, wiring = machine.world, machine.wiring
    if question in (Question.CLOSE_AT_TIP, Question.CLOSE_AT_FLANK):
        wiring.bridged = world.scene is None or world.scene.plate is not None
        world.set_plate(in_place=False)
    elif question is Question.CLOSE_AT_STOCK:
        wiring.bridged = world.scene is None or world.stock_conducts
    elif question is Question.CLOSE_AT_BENCH:
        wiring.bridged = True
    elif question in (Question.OPEN, Question.PRESS_STOP):
        wiring.bridged, wiring.noise_until = False, 0.0
    elif question in (Question.CLEAR, Question.HANDS_AWAY):
        wiring.bridged = machine.turning = False
        world.set_plate(in_place=True)
    elif question is Question.TURN_FLUTE:
        world.turn_before_next_wall = True
    elif question is Question.TURN_HALF:
        world.turn_half()
    elif question is Question.RELEASE:
        wiring.bridged = wiring.lead_on = False
        world.set_plate(in_place=False)
    machine.forget_touch()
