"""A person at the virtual machine: does what is asked, and answers.

What this person does, or forgets, is a pure consequence of the options: nothing is drawn, nothing waits.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from gingerly import units
from gingerly.messages.commands import Answer, Question
from gingerly_mock.clock import VirtualClock

SECONDS = 5.0
"""Virtual seconds that a person takes for one step where nobody says otherwise: our own choice."""

REACTS_S = 3.0
"""Virtual seconds after which a person does what a stop test asks for, once the tool rises: our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """How the person at the machine differs from one who does everything right.

    `answers` holds, for a question, the answers given in turn, the last one over and over; whoever answers
    anything but yes has done nothing. `forgets` names questions answered without doing anything. `seconds` is
    how long one step takes, infinite for a person who has left; `seconds_for` the same for single questions. In a
    stop test lead and plate are touched together `touches_after_s` after the answer, and the machine's own stop is
    pressed `presses_after_s` after it; infinite is never.
    """

    answers: Mapping[Question, tuple[Answer, ...]] = field(default_factory=dict)
    forgets: frozenset[Question] = frozenset()
    seconds: float = SECONDS
    seconds_for: Mapping[Question, float] = field(default_factory=dict)
    touches_after_s: float = REACTS_S
    presses_after_s: float = REACTS_S

    @classmethod
    def from_plain(cls, given: object) -> Habits:
        """Return the habits that a table describes; raises `TypeError` or `ValueError` for an unusable one."""
        if isinstance(given, Habits):
            return given
        if not isinstance(given, Mapping):
            raise ValueError(f"operator must be a table, not {units.shown(given)}")
        known = {entry.name for entry in fields(cls)}
        for name in given:
            if name not in known:
                near = difflib.get_close_matches(str(name), sorted(known), n=1, cutoff=0.0)
                raise TypeError(f"the virtual operator has no {name!r}; the nearest is {near[0]!r}")
        values: dict[str, Any] = {}
        for name in ("answers", "seconds_for"):
            if not isinstance(given.get(name, {}), Mapping):
                raise ValueError(f"the operator's {name} must be a table by question, not {given[name]!r}")
        if "answers" in given:
            values["answers"] = {_question(key): _answers(value) for key, value in given["answers"].items()}
        if "forgets" in given:
            if isinstance(given["forgets"], str) or not isinstance(given["forgets"], Iterable):
                raise ValueError(f"what the operator forgets must be a list of questions, not {given['forgets']!r}")
            values["forgets"] = frozenset(_question(key) for key in given["forgets"])
        for name in ("seconds", "touches_after_s", "presses_after_s"):
            if name in given:
                values[name] = _seconds(given[name])
        if "seconds_for" in given:
            values["seconds_for"] = {_question(k): _seconds(v) for k, v in given["seconds_for"].items()}
        return cls(**values)


def _question(value: object) -> Question:
    for question in Question:
        if value in (question, question.value, question.name.lower()):
            return question
    raise ValueError(
        f"the questions are {', '.join(repr(one.value) for one in Question)}, not {units.shown(value)}"
    )


def _answers(value: object) -> tuple[Answer, ...]:
    if isinstance(value, list | tuple) and value:
        return tuple(_answers(one)[0] for one in value)
    for answer in Answer:
        if value in (answer, answer.value):
            return (answer,)
    raise ValueError(f"the answers are {', '.join(repr(one.value) for one in Answer)}, not {units.shown(value)}")


def _seconds(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or math.isnan(value) or value < 0.0:
        raise ValueError(f"the operator's seconds must be 0 or more, not {units.shown(value)}")
    return float(value)


class SimulatedOperator:
    """Whoever stands at the virtual machine; `does` carries a question's work out in the virtual world."""

    def __init__(self, habits: Habits, clock: VirtualClock, does: Callable[[Question], None]) -> None:
        self._habits = habits
        self._clock = clock
        self._does = does
        self._asked: dict[Question, int] = {}
        self.questions: list[tuple[float, Question, Answer | None]] = []
        """What was asked so far: virtual time, question, and the answer or None where none was given."""

    async def ask(self, question: Question, machine: str) -> Answer:
        """Return the person's answer to `question`, after doing what a yes to it means."""
        habits = self._habits
        at = len(self.questions)
        self.questions.append((self._clock.now(), question, None))
        turn = self._asked.get(question, 0)
        self._asked[question] = turn + 1
        self._clock.elapse(habits.seconds_for.get(question, habits.seconds))
        answers = habits.answers.get(question, (Answer.YES,))
        answer = answers[min(turn, len(answers) - 1)]
        if answer is Answer.YES and question not in habits.forgets:
            self._does(question)
        self.questions[at] = (self._clock.now(), question, answer)
        return answer
