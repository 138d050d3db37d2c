"""The thin layer between the checks and pytest: one test a check, and a closing summary.

It needs pytest and pytest-asyncio (the library's extra ``test``) and works in strict and in automatic mode.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any, ClassVar

import pytest

from gingerly.conformance.catalogue import TOPICS, Check
from gingerly.conformance.report import Report, Result, Verdict
from gingerly.conformance.run import all_checks, exercise
from gingerly.conformance.subject import Subject

NOT_SIMULATED = (
    "the subject does not say that its machine is simulated; on a real machine run"
    " `python -m gingerly.conformance module:factory`, which says what to secure first"
)

Test = Callable[..., Awaitable[None]]


class Summary:
    """A pytest plugin that is registered once the first check runs, and prints all reports at the end."""

    name = "gingerly-conformance-summary"

    def __init__(self) -> None:
        self.reports: dict[str, Report] = {}

    @classmethod
    def of(cls, config: pytest.Config) -> Summary:
        """Return the summary of this pytest run."""
        plugin = config.pluginmanager.get_plugin(cls.name)
        if plugin is None:
            plugin = cls()
            config.pluginmanager.register(plugin, cls.name)
        assert isinstance(plugin, Summary)
        return plugin

    def pytest_terminal_summary(self, terminalreporter: Any) -> None:
        """Print how much of the contract each adapter was held to."""
        terminalreporter.section("adapter conformance")
        for report in self.reports.values():
            terminalreporter.write_line(report.summary())


class AdapterConformance:
    """Every check of the kit as a test. Subclass it, name the subclass ``Test…``, and override `subject`.

    `up_to` names the last topic to run while an adapter is being written; the summary lists the rest as not run.
    The tests themselves cannot be overridden: "conforms" means the same for every adapter.
    """

    up_to: ClassVar[str] = TOPICS[-1]

    def __init_subclass__(cls, **kwargs: object) -> None:
        super().__init_subclass__(**kwargs)
        for name in _NAMES:
            if getattr(cls, name, None) is not AdapterConformance.__dict__[name]:
                raise TypeError(
                    f"{cls.__name__} overrides {name}: a check of the contract cannot be changed or switched off;"
                    " state the facts that make it not applicable, or leave its hook out"
                )
        if cls.up_to not in TOPICS:
            raise ValueError(f"{cls.__name__}.up_to must be one of {', '.join(TOPICS)}, not {cls.up_to!r}")

    @pytest.fixture
    def subject(self) -> Subject:
        """Return the machine behind the adapter; to be overridden."""
        raise NotImplementedError("override the fixture `subject`; it returns a gingerly.conformance.Subject")


def _make_test(check: Check) -> Test:
    async def test(self: AdapterConformance, subject: Subject, request: pytest.FixtureRequest) -> None:
        if TOPICS.index(check.topic) > TOPICS.index(self.up_to):
            pytest.skip(f"not run: this class goes up to the topic {self.up_to!r}, and this is {check.topic!r}")
        if not subject.simulated:
            pytest.skip(NOT_SIMULATED)
        result = await exercise(check, subject)
        _keep(request, result)
        if result.verdict is Verdict.FAILED:
            pytest.fail(result.reason, pytrace=False)
        if result.verdict is not Verdict.PASSED:
            pytest.skip(f"{result.verdict.value}: {result.reason}")

    test.__name__ = f"test_{check.name}"
    test.__qualname__ = f"AdapterConformance.{test.__name__}"
    test.__doc__ = check.body.__doc__
    marked: Test = pytest.mark.asyncio(loop_scope="function")(test)
    return marked


def _keep(request: pytest.FixtureRequest, result: Result) -> None:
    owner = request.node.nodeid.rsplit("::", 1)[0]
    reports = Summary.of(request.config).reports
    reports.setdefault(owner, Report(owner)).add(result)


_NAMES = []
for _check in all_checks():
    _test = _make_test(_check)
    _NAMES.append(_test.__name__)
    setattr(AdapterConformance, _test.__name__, _test)
