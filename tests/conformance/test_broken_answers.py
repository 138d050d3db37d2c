"""An adapter that answers with something else than the contract says fails in words that quote what it answered."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from conformance.plain_subjects import MemoryAdapter, memory_subject
from conformance.virtual import VirtualLoop
from gingerly.conformance import Verdict, all_checks, run_all
from gingerly.conformance.catalogue import check
from gingerly.messages.replies import Touched


def results(topic: str, subject: Any) -> list[tuple[Verdict, str]]:
    """Verdict and words of all checks of one topic."""
    report = run_all(subject, checks=[one for one in all_checks() if one.topic == topic], loop_factory=VirtualLoop)
    return [(result.verdict, result.reason) for result in report.results]


def failed(topic: str, adapter: type) -> str:
    """What the failed checks of one topic say."""
    return "\n".join(why for verdict, why in results(topic, memory_subject(adapter)) if verdict is Verdict.FAILED)


class OddOffset(MemoryAdapter):
    async def read_offset(self, number):
        return (1.0, 2.0, 3.0)


class OddSense(MemoryAdapter):
    async def sense(self, to, feed):
        return "touched"


class OddContact(MemoryAdapter):
    async def sense(self, to, feed):
        return Touched(None, await self.look())


@pytest.mark.parametrize(
    ("topic", "adapter", "said"),
    [
        ("offsets", OddOffset, "answered (1.0, 2.0, 3.0), which "),
        ("sense", OddSense, "answered 'touched', which is neither Touched nor Missed"),
        ("sense", OddContact, "answered a contact that "),
    ],
)
def test_what_was_answered_is_quoted_with_what_is_wrong_about_it(topic: str, adapter: type, said: str) -> None:
    assert said in failed(topic, adapter)


@pytest.mark.parametrize(
    ("offsets", "words"), [((), "allows no work offset"), ((3,), "fewer than two work offsets")]
)
def test_what_the_subject_does_not_allow_is_not_exercised_and_says_so(offsets: tuple[int, ...], words: str) -> None:
    """Never passed in silence: a check that was not done is told from one that was."""
    found = results("offsets", replace(memory_subject(), offsets=offsets))
    assert any(verdict is Verdict.NOT_EXERCISED and words in why for verdict, why in found)
    assert Verdict.FAILED not in {verdict for verdict, _ in found}


def test_a_check_has_a_name_of_its_own_and_a_known_topic() -> None:
    taken = all_checks()[0]
    for topic, name in ((taken.topic, taken.name), ("tea", "brewing")):

        async def body(case: object) -> None:
            """It is hot.

            Does: nothing.

            Why: no reason.
            """

        body.__name__ = name
        with pytest.raises(ValueError, match="unknown topic or a name that is taken"):
            check(topic)(body)
