"""Ctrl-C: a real signal to a real process that drives a practice controller."""

from __future__ import annotations

import signal
from pathlib import Path
from typing import Any

import pytest

from support.practice import Practice, Script


@pytest.mark.parametrize("signals", [1, 2])
def test_ctrl_c_stops_a_sense_and_a_second_one_changes_nothing(tmp_path: Path, signals: int) -> None:
    """The machine brakes well before the metal, stands, is said to stand, and nothing was written."""
    with Practice(tmp_path, speed=4.0) as practice:
        script = Script(practice)
        script.until_sensing()
        practice.hand("await motion 3")
        for _ in range(signals):
            script.process.send_signal(signal.SIGINT)
        ended = script.end()
        stops: list[dict[str, Any]] = practice.since_set_up("stop")
        assert [stop["moving"] for stop in stops[:1]] == [True]
        assert ended == "ended Interrupted / the machine stands still (confirmed)"
        assert practice.truth()["moving"] is False
        assert practice.truth()["deepest"] == 0.0
        assert practice.since_set_up("offset") == []
