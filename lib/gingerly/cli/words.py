"""Words for people: cautions, and how each question is put. The wording is our own."""

from __future__ import annotations

from dataclasses import dataclass

from gingerly.messages.commands import Question

SAFETY = """\
Before you begin. This program is no safeguard for people.
  - Spindle off and locked out for as long as the test lead is on.
  - Extra-low voltage only, on the input made for it. Never mains on a plate.
  - Eyes protected. Hands clear: fix the plate, never hold it while the machine
    may move.
  - On a first run keep a hand at the machine's own stop.
  - Take test lead and plate off before the spindle starts.
  - Follow the machine's manual and your local codes; ask a qualified person
    when unsure.
"""

SAFETY_IN_BRIEF = (
    "Nothing real moves here. On a real machine: spindle locked out while the test lead is on, extra-low voltage"
    " only, eyes protected, hands clear, a hand at the machine's own stop, lead and plate off before the start."
)

WAIVE = "without proof"
"""What a person types to go on without seeing the circuit close; it is kept on record."""

REFUSE = "no"

ENDS = "to end the run"
"""What a no does to most questions."""


@dataclass(frozen=True, slots=True)
class Prompt:
    """How one question is put: what to do, and the word that says it is done."""

    task: str
    word: str
    may_waive: bool = False
    refusing: str = ENDS
    """What typing the other word is for."""


PROMPTS = {
    Question.CLOSE_AT_TIP: Prompt(
        "With the test lead clipped to the tool, hold the touch plate against the tip of the tool, bare metal on bare"
        " metal, and keep it there. The machine does not move meanwhile.",
        "tip",
        may_waive=True,
    ),
    Question.CLOSE_AT_FLANK: Prompt(
        "With the test lead clipped to the tool, hold the touch plate against the side of the tool, as low as it will"
        " touch a wall, and keep it there. The machine does not move meanwhile.",
        "flank",
        may_waive=True,
    ),
    Question.CLOSE_AT_STOCK: Prompt(
        "With the test lead clipped to the tool, bridge the tool and the very face of the stock that will be touched"
        " with a piece of bare metal, and keep it there. The machine does not move meanwhile.",
        "stock",
        may_waive=True,
    ),
    Question.CLOSE_AT_BENCH: Prompt(
        "Lay the touch plate on the bench, well away from the machine, take the test lead off the tool, and hold its"
        " end against the bare plate. The machine does not move meanwhile.",
        "bench",
    ),
    Question.PLAIN_STATE: Prompt(
        "Look at the controller: no origin shift on top of the work offsets, no tool length offset, no rotation, the"
        " feed override at one to one. This machine cannot tell it to the program.",
        "plain",
    ),
    Question.OPEN: Prompt("Take the metal apart again, so that nothing closes the circuit.", "apart"),
    Question.CLEAR: Prompt(
        "Seat the plate and fix it, lock the spindle off, take your hands away."
        " THE MACHINE MOVES after this answer.",
        "clear",
    ),
    Question.HANDS_AWAY: Prompt(
        "Seat the plate and fix it, lock the spindle off, take your hands away, so that the circuit is seen open."
        " This check moves nothing; what is started after it may.",
        "seated",
    ),
    Question.TURN_FLUTE: Prompt("Turn the tool by hand until a flute faces the wall that comes next.", "turned"),
    Question.TURN_HALF: Prompt(
        "Spindle drive off and locked out; leave the test lead on. Turn the spindle by hand by half a turn: a mark on"
        " it that faced you must face away.",
        "half",
    ),
    Question.RELEASE: Prompt(
        "Take test lead and touch plate off the machine, both of them.",
        "removed",
        refusing="while they are still on",
    ),
    Question.NEXT_PART: Prompt("Take test lead and touch plate to the part that comes next.", "moved"),
    Question.STAND_CLEAR: Prompt(
        "The tool still stands where it was interrupted. Look that its way straight up is free, and take your hands"
        " away. THE MACHINE MOVES after this answer.",
        "away",
    ),
    Question.LOOK_AT_ZERO: Prompt(
        "The tool is about to go above the new zero. Look that nothing is in its way: up, across at the top, and down"
        " over the zero, above which it stays by the height asked for. Take your hands away."
        " THE MACHINE MOVES after this answer.",
        "show",
    ),
    Question.RISE: Prompt(
        "Stop test, first half. Spindle locked off, nobody near the tool, lead and plate apart, one hand at the"
        " machine's own stop. THE MACHINE MOVES after this answer: the tool RISES slowly in free air. Only then hold"
        " the end of the lead against the plate on the bench: the tool must stop.",
        "rise",
    ),
    Question.PRESS_STOP: Prompt(
        "Stop test, second half. Lead and plate apart again, nobody near the tool. THE MACHINE MOVES after this answer:"
        " the tool RISES once more. Only then press the machine's own stop, once: it must stop, and the program must"
        " notice.",
        "press",
    ),
    Question.CHANGE_TOOL: Prompt("Lock the spindle off and put the next tool into it.", "changed"),
}
"""One prompt for every question; no two are answered by the same word."""
