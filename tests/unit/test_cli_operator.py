"""A question at the terminal names its machine and cannot be answered by accident."""

from __future__ import annotations

import asyncio
import io
import os
from dataclasses import replace

import pytest

from gingerly import Answer, Question
from gingerly.batch import PartStarted, StepAsked
from gingerly.cli.operator import PATIENCE, Lines, TerminalOperator
from gingerly.cli.words import PROMPTS
from support.jobs import sound


class Typist(io.StringIO):
    """Types one of its answers into a pipe each time that it is prompted; closes the pipe when it has none left."""

    def __init__(self, *answers: str) -> None:
        super().__init__()
        self.descriptor, self._pipe = os.pipe()
        self._answers = iter(answers)

    def type(self, text: str) -> None:
        os.write(self._pipe, text.encode())

    def write(self, text: str) -> int:
        if text.endswith("> "):
            answer = next(self._answers, None)
            if answer is None:
                os.close(self._pipe)
            else:
                self.type(f"{answer}\n")
        return super().write(text)


def answered(question: Question, *answers: str, before_lid: bool = False) -> tuple[Answer, str]:
    typist = Typist(*answers)
    operator = TerminalOperator(Lines(typist.descriptor), typist)
    if before_lid:
        operator.observe(StepAsked(sound().parts[1], question))
    answer = asyncio.run(operator.ask(question, "cellar mill"))
    return answer, typist.getvalue()


def test_every_question_has_a_prompt_and_no_two_are_answered_by_the_same_word() -> None:
    assert set(PROMPTS) == set(Question)
    assert len({prompt.word for prompt in PROMPTS.values()}) == len(Question)


@pytest.mark.parametrize("question", list(Question))
def test_the_full_word_shown_means_yes(question: Question) -> None:
    answer, text = answered(question, PROMPTS[question].word)
    assert answer is Answer.YES
    assert f"Type  {PROMPTS[question].word}  " in text
    assert "Question 1, machine 'cellar mill'" in text


@pytest.mark.parametrize("question", list(Question))
@pytest.mark.parametrize("before_lid", [False, True])
def test_no_prompt_is_wider_than_a_terminal(question: Question, before_lid: bool) -> None:
    text = answered(question, "what?", "no", before_lid=before_lid)[1]
    assert [line for line in text.split("\n") if len(line) > 80] == []


def test_a_no_to_taking_lead_and_plate_off_ends_nothing_and_says_so() -> None:
    """It is asked again, while the machine is held."""
    assert "or  no  while they are still on." in answered(Question.RELEASE, "no")[1]
    assert "or  no  to end the run." in answered(Question.CLEAR, "no")[1]


@pytest.mark.parametrize("question", [Question.CLOSE_AT_TIP, Question.CLOSE_AT_FLANK, Question.CLOSE_AT_STOCK])
def test_whoever_is_to_close_the_circuit_is_told_where_the_lead_belongs(question: Question) -> None:
    assert "With the test lead clipped to the tool" in answered(question, "no")[1]


@pytest.mark.parametrize("slip", ["", "y", "yes", "cle", "clear!", "CLEAR x", "release"])
def test_anything_else_is_no_answer_and_is_asked_again(slip: str) -> None:
    answer, text = answered(Question.CLEAR, slip, "no")
    assert answer is Answer.NO
    assert text.count("That answers nothing") == 1


def test_case_and_spaces_around_the_word_do_not_matter() -> None:
    assert answered(Question.CLEAR, "  Clear ")[0] is Answer.YES


def test_an_end_of_input_means_no() -> None:
    assert answered(Question.CLEAR)[0] is Answer.NO


def test_after_so_many_slips_the_answer_is_no() -> None:
    answer, text = answered(Question.CLEAR, *["what?"] * PATIENCE)
    assert answer is Answer.NO
    assert text.count("> ") == PATIENCE


@pytest.mark.parametrize("question", list(Question))
def test_only_the_closing_of_the_circuit_can_be_waived(question: Question) -> None:
    closing = question in (Question.CLOSE_AT_TIP, Question.CLOSE_AT_FLANK, Question.CLOSE_AT_STOCK)
    answer, _ = answered(question, "without proof", "no")
    assert answer is (Answer.WAIVE if closing else Answer.NO)


def test_what_was_typed_before_the_question_answers_nothing() -> None:
    typist = Typist("apart", "no")
    lines = Lines(typist.descriptor)
    operator = TerminalOperator(lines, typist)

    async def two() -> Answer:
        await operator.ask(Question.OPEN, "cellar mill")
        typist.type("clear\n")  # the reader has it before anybody asks
        while not lines.waiting:  # noqa: ASYNC110
            await asyncio.sleep(0)
        return await operator.ask(Question.CLEAR, "cellar mill")

    assert asyncio.run(two()) is Answer.NO


def test_a_step_between_parts_says_which_part_and_which_tool() -> None:
    plate, tool = (
        " ".join(answered(question, "no", before_lid=True)[1].split())
        for question in (Question.NEXT_PART, Question.CHANGE_TOOL)
    )
    assert "Part 'lid 1': front left corner, plate 'corner', seated." in plate
    assert "It is 'pin', 3.175 mm across." in tool


def test_what_the_job_says_is_told_once_with_the_first_question_of_its_part() -> None:
    typist = Typist("no", "no")
    operator = TerminalOperator(Lines(typist.descriptor), typist)
    part = replace(sound().parts[1], say="Turn it over.")
    operator.observe(StepAsked(part, Question.NEXT_PART))

    async def two() -> None:
        await operator.ask(Question.NEXT_PART, "cellar mill")
        operator.observe(PartStarted(part, 2, 4))
        await operator.ask(Question.CLEAR, "cellar mill")

    asyncio.run(two())
    assert typist.getvalue().count("The job says: Turn it over.") == 1


def test_in_a_rehearsal_the_virtual_world_hears_of_a_yes_and_of_nothing_else() -> None:
    heard = []

    class World:
        async def ask(self, question: Question, machine: str) -> Answer:
            heard.append(question)
            return Answer.YES

    for answer in ("apart", "no"):
        typist = Typist(answer)
        asyncio.run(TerminalOperator(Lines(typist.descriptor), typist, forward=World()).ask(Question.OPEN, "m"))
    assert heard == [Question.OPEN]
