"""A person at a real terminal and at the practice machine at once: does what is asked there, then types the word."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from gingerly.cli.words import PROMPTS
from support.practice import Practice
from support.terminal import Terminal

QUESTIONS = {prompt.word: question for question, prompt in PROMPTS.items()}


class Attended(Terminal):
    """Runs `gingerly` with `arguments` at a terminal.

    `after` is done once, right after its word was typed; `instead` says what else than asked is done, once, for a word.
    """

    def __init__(
        self,
        practice: Practice,
        *arguments: str,
        after: Mapping[str, Callable[[], object]] | None = None,
        instead: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(*arguments)
        self._practice = practice
        self._after = dict(after or {})
        self._instead = dict(instead or {})
        self.words: list[str] = []

    def go(self) -> tuple[str, int]:
        """Do and answer everything that is asked, until the command ends; return the screen and the exit code."""
        while self._more():
            unread = self.text[self._read_to :]
            asked = re.findall(r"Type  (\w+)  when", unread)
            if asked and unread.endswith("> "):
                self._read_to = len(self.text)
                self._answer(asked[-1])
        return self.end()

    def _answer(self, word: str) -> None:
        self.words.append(word)
        self._practice.hand(self._instead.pop(word, QUESTIONS[word].value))
        self.type(f"{word}\n")
        self._after.pop(word, lambda: None)()
