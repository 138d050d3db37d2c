"""A batch of very many parts keeps a small account of each, and says the same of them."""

from __future__ import annotations

import pytest

from gingerly import batch, report
from gingerly import job as jobs
from gingerly.batch import PartEnded, Summary
from support.jobs import SOUND

SKIPPING = SOUND.replace("within = 0.6", 'within = 0.6\non_fault = "skip"')


@pytest.fixture(
    scope="module", params=[SOUND, SKIPPING.replace("offset = 2", "offset = 2\nsimulated = { lead_off_after = 2 }")]
)
def both(request: pytest.FixtureRequest) -> tuple[Summary, Summary]:
    """The same batch, with its runs kept whole and with them put away."""
    whole, away = (batch.run_blocking(jobs.loads(request.param), keep_results=kept) for kept in (True, False))
    return whole, away


def test_no_run_is_kept_whole_where_that_is_not_wanted(both: tuple[Summary, Summary]) -> None:
    assert all(entry.result is not None for entry in both[0].parts)
    assert all(entry.result is None for entry in both[1].parts)
    assert all(entry.fault is None or entry.fault.result is None for entry in both[1].parts)


def test_the_table_says_the_same_of_a_run_that_was_put_away(both: tuple[Summary, Summary]) -> None:
    whole, away = both
    assert report.rows(away) == report.rows(whole)
    assert report.next_steps(away) == report.next_steps(whole)
    assert report.exit_code(away) == report.exit_code(whole)


def test_the_document_says_the_same_but_for_budget_and_plan(both: tuple[Summary, Summary]) -> None:
    whole, away = map(report.document, both)
    for part in whole["parts"]:
        part["plan"] = None
        for stated in part["uncertainty"].values():
            for key in set(stated) - {"probability", "half_width"}:
                del stated[key]
    assert away == whole


def test_an_observer_is_given_each_run_whole_all_the_same() -> None:
    """A script of a few lines gets at every contact, also of ten thousand parts."""
    contacts: list[int] = []

    def observe(event: object) -> None:
        if isinstance(event, PartEnded) and event.entry.result is not None:
            contacts.append(sum(len(face.contacts) for face in event.entry.result.outcome.faces))

    batch.run_blocking(jobs.loads(SOUND), keep_results=False, observer=observe)
    assert len(contacts) == 4
    assert min(contacts) > 0


def test_a_job_of_more_than_many_parts_puts_its_runs_away_by_itself() -> None:
    rows = batch.MANY // 10 + 1
    grid = f"grid = {{ rows = {rows}, columns = 10, pitch_x = 1, pitch_y = 0.1, per_wave = 1 }}"
    job = jobs.loads(
        SOUND.partition("[[parts]]")[0]
        + f"""
[[parts]]
name = "lid"
routine = "surface"
place = {{ x = 40, y = 30, z = -45 }}
offset = 1
{grid}
"""
    )
    summary = batch.run_blocking(job)  # only the first wave is begun: a single part
    assert summary.parts[0].status is batch.Status.DONE
    assert summary.parts[0].result is None
    assert summary.parts[0].account is not None
