"""A batch that is killed at any moment, between any two steps of journal and controller, is finished by a resume.

The full run kills at every point once, and twice in a row at many:
``pytest tests/end_to_end/test_kill.py --all-kills``.
"""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from gingerly.journal import open_journal, unreleased
from support.killing import job

TESTS = Path(__file__).parents[1]
KILLS = 10
"""How many kills a bounded run spreads evenly over the batch, on top of those around each write."""

TWICE = 60
"""How many double kills the full run makes on top of one kill at every point."""

NEAR = 0.008
"""What two touches of one face from different starts may differ by, in mm: a motor step and the latch, and twice
that after a tool change."""

pytestmark = [
    pytest.mark.thorough,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked and killed by a signal"),
]


def runs(folder: Path, *deadly: str) -> list[dict[str, Any]]:
    done = subprocess.run(
        [sys.executable, "-m", "support.killing", str(folder), *deadly],
        cwd=TESTS,
        capture_output=True,
        text=True,
        check=False,
        timeout=1200,
    )
    assert done.returncode == 0, done.stderr
    return [json.loads(line) for line in done.stdout.splitlines()]


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The same batch without a kill."""
    return runs(tmp_path_factory.mktemp("undisturbed"), "0")[0]


def wrongs(found: dict[str, Any], right: dict[str, Any], folder: Path) -> list[str]:
    """Everything that a kill has spoilt; nothing, it is to be hoped."""
    wrong = []
    if not (found["complete"] and found["released"]):
        wrong.append(f"not finished: {found['statuses']} {found['faults']}")
    if not same(found["offsets"], right["offsets"], "123456789"):
        wrong.append(f"wrong offsets: {found['offsets']}")
    for kill in found["kills"]:
        wrong += needless(kill, found, right)
    with open_journal(folder / "-".join(map(str, found["deadly"])) / "journal.db") as journal:
        numbers = [entry.number for entry in journal.entries()]
        if numbers != list(range(1, len(numbers) + 1)) or unreleased(journal, "cellar mill"):
            wrong.append("the journal is not whole")
    return wrong


def needless(kill: dict[str, Any], found: dict[str, Any], right: dict[str, Any]) -> list[str]:
    """What was touched again although it was set when the process was killed, and offsets that were mixed then."""
    after = {line["ended"]: line["offsets"] for line in right["told"] if "ended" in line}
    known = [{str(number): [0.0, 0.0, 0.0] for number in range(1, 10)}, *after.values()]
    mixed = [number for number in kill["offsets"] if not any(same(kill["offsets"], one, number) for one in known)]
    begun_later = [line["begun"] for line in found["told"] if "begun" in line][len(kill["begun"]) :]
    under_way = kill["begun"][-1:]
    order = [part.name for part in job().parts]
    done = order[: order.index(under_way[0])] if under_way else []
    for part in job().parts:
        if part.name in under_way and part.offsets:
            written = "".join(map(str, part.offsets))
            done += [part.name] if same(kill["offsets"], after[part.name], written) else []
    again = [name for name in begun_later if name in done]
    return [f"offsets mixed: {mixed}"] * bool(mixed) + [f"touched again: {again}"] * bool(again)


def same(one: dict[str, list[float]], other: dict[str, list[float]], numbers: str) -> bool:
    return all(abs(a - b) <= NEAR for n in numbers for a, b in zip(one[n], other[n], strict=True))


def test_a_batch_killed_at_many_points_is_finished_by_a_resume(
    undisturbed: dict[str, Any], tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    passed = undisturbed["points"]
    points = len(passed)
    if request.config.getoption("--all-kills", default=False):
        dice = random.Random(8)
        deadly = [str(point) for point in range(1, points + 1)]
        deadly += [f"{dice.randint(1, points)},{dice.randint(1, points)}" for _ in range(TWICE)]
    else:
        writes = [n for n, what in enumerate(passed, 1) if what == "write_offset"][::2]
        close = {n + near for n in writes for near in (0, 1, 2, 4)}
        deadly = [str(n) for n in sorted(close | {1 + n * points // KILLS for n in range(KILLS)})]
    found = runs(tmp_path, *deadly)
    wrong = {",".join(map(str, one["deadly"])): wrongs(one, undisturbed, tmp_path) for one in found}
    print(f"{sum(len(one['kills']) for one in found)} kills at {len(deadly)} of {points} points")
    assert len(found) == len(deadly)
    assert {point: what for point, what in wrong.items() if what} == {}
