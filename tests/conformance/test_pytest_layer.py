"""The layer on top: one test a check, in strict and in automatic mode, and nobody can take one out."""

from __future__ import annotations

import pytest

from conformance.mock_subjects import mock_subject
from gingerly.conformance import AdapterConformance, Subject, all_checks

pytest_plugins = ("pytester",)

MINE = """
import pytest
from dataclasses import replace
from conformance.mock_subjects import mock_subject
from gingerly.conformance import AdapterConformance

class TestMine(AdapterConformance):
    {body}

    @pytest.fixture
    def subject(self):
        return replace(mock_subject(), simulated={simulated})
"""


def run_inside(pytester: pytest.Pytester, *, body: str = "pass", simulated: bool = True, mode: str = "strict"):
    pytester.makepyprojecttoml(
        f"[tool.pytest.ini_options]\nasyncio_mode = '{mode}'\nasyncio_default_fixture_loop_scope = 'function'\n"
    )
    pytester.makepyfile(test_mine=MINE.format(body=body, simulated=simulated))
    return pytester.runpytest_inprocess("-p", "no:cacheprovider")


@pytest.mark.parametrize("mode", ["strict", "auto"])
def test_the_kit_runs_in_both_modes_of_asyncio(pytester: pytest.Pytester, mode: str) -> None:
    """Each check is one test, and the summary stands at the end."""
    result = run_inside(pytester, mode=mode)
    outcomes = result.parseoutcomes()
    assert outcomes["passed"] + outcomes["skipped"] == len(all_checks())
    assert "failed" not in outcomes
    result.stdout.fnmatch_lines(["*adapter conformance*", "test_mine.py::TestMine: * rules that concern it hold *"])


def test_a_topic_not_reached_yet_is_skipped_and_listed(pytester: pytest.Pytester) -> None:
    """`up_to` leaves the later topics out, openly."""
    result = run_inside(pytester, body='up_to = "door"')
    assert result.parseoutcomes()["passed"] == len(all_checks(up_to="door"))
    result.stdout.fnmatch_lines(["*not run: look (all *), offsets (all *), traverse (all *"])


def test_a_machine_that_may_be_real_is_not_moved_by_pytest(pytester: pytest.Pytester) -> None:
    """Without `simulated` every check is skipped, and the reason says what to run instead."""
    result = run_inside(pytester, simulated=False)
    assert result.parseoutcomes() == {"skipped": len(all_checks())}


def test_a_failure_is_shown_as_advice_without_a_traceback(pytester: pytest.Pytester) -> None:
    """The author reads what the adapter did, not where the kit noticed."""
    pytester.makepyprojecttoml("[tool.pytest.ini_options]\nasyncio_default_fixture_loop_scope = 'function'\n")
    pytester.makepyfile(
        test_mine="""
        import pytest
        from conformance.mock_subjects import mock_subject
        from gingerly.conformance import AdapterConformance

        class TestMine(AdapterConformance):
            @pytest.fixture
            def subject(self):
                return mock_subject(faults=[{"what": "chip"}])
        """
    )
    result = pytester.runpytest_inprocess("-k", "circuit_is_open_in_free_air")
    result.stdout.fnmatch_lines(["  the adapter: *calls the circuit closed", "  why: *"])
    assert "Traceback" not in result.stdout.str()


def test_a_check_cannot_be_overridden() -> None:
    """A class that redefines a check is refused where it is written."""
    with pytest.raises(TypeError, match="cannot be changed or switched off"):

        class Mine(AdapterConformance):
            def test_free_air_is_a_miss(self) -> None: ...


def test_a_check_cannot_be_overridden_by_a_mixin() -> None:
    """Nor can a base class slip one in."""

    class Lenient:
        test_an_alarm_is_never_cleared = None

    with pytest.raises(TypeError, match="test_an_alarm_is_never_cleared"):

        class Mine(Lenient, AdapterConformance):
            pass


def test_an_unknown_topic_is_refused() -> None:
    """`up_to` must name a topic."""
    with pytest.raises(ValueError, match="up_to must be one of facts, door"):

        class Mine(AdapterConformance):
            up_to = "everything"


def test_every_check_is_a_test_of_its_own() -> None:
    """Each has its name and its documentation, so that a failing line says what to mend."""
    for check in all_checks():
        test = getattr(AdapterConformance, f"test_{check.name}")
        assert check.rule.split()[0] in test.__doc__


def test_the_mocks_subject_is_one() -> None:
    """The helper that the tests above import is what they think."""
    assert isinstance(mock_subject(), Subject)
