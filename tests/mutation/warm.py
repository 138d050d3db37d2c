"""A process with everything imported but the code under test: it forks, and the fork runs the tests of one mutant.

Starting Python and importing what the tests need takes longer than most tests of a mutant. The fork imports
`gingerly` from its (mutated) files and writes no byte code, so no mutant can be taken for another one. Each run is
bounded in processor time, so that a busy machine makes no mutant look endless; a run that only waits is bounded by
many times what the same tests took as the code stands.
"""

from __future__ import annotations

import contextlib
import importlib
import os
import resource
import select
import signal
import socket
import sys
import time
from collections.abc import Sequence

WARM = (
    "asyncio",
    "hypothesis",
    "msgspec",
    "numpy",
    "pytest",
    "pytest_asyncio.plugin",
    "rich",
    "serial",
    "transitions",
)
PATIENCE = 10.0
"""A run that takes this many times as long as it took as the code stands, and `LEAST_S` more, waits for nothing."""

LEAST_S = 10.0

PYTEST = (
    *("-x", "-q", "--no-header", "-o", "addopts=--import-mode=importlib"),
    *("-p", "no:xdist", "-p", "no:benchmark", "-p", "no:cacheprovider"),
    *("-W", "ignore::pytest.PytestAssertRewriteWarning"),
)


def serve(
    address: str, files: Sequence[str], beneath: Sequence[str], stages: Sequence[Sequence[str]], cpu_s: int
) -> None:
    """Answer each connection with 0 where all stages of tests pass, else with 1.

    The modules `beneath` are imported once; none of `files`, which are mutated, may come with them.
    """
    for name in (*WARM, *beneath):
        importlib.import_module(name)
    loaded = {os.path.realpath(getattr(module, "__file__", None) or "") for module in sys.modules.values()}
    assert loaded.isdisjoint(map(os.path.realpath, files)), "what is mutated must be imported anew each time"
    with socket.socket(socket.AF_UNIX) as door:
        bounds = [PATIENCE * _took(tests, cpu_s) + LEAST_S for tests in stages]
        door.bind(address)
        door.listen()
        while True:
            client, _ = door.accept()
            with client, contextlib.suppress(OSError):
                passed = all(
                    _passes(client, tests, cpu_s, bound_s) for tests, bound_s in zip(stages, bounds, strict=True)
                )
                client.sendall(bytes([not passed]))


def _took(tests: Sequence[str], cpu_s: int) -> float:
    """Return how many seconds these tests take as the code stands; the byte code that they make is kept."""
    began = time.monotonic()
    if not _passes(None, tests, cpu_s, None):
        raise SystemExit("the tests do not pass as the code stands, so they can judge no mutant")
    return time.monotonic() - began


def _passes(client: socket.socket | None, tests: Sequence[str], cpu_s: int, bound_s: float | None) -> bool:
    """Run these tests in a fork; give up when the time is up, or the client gone."""
    child = os.fork()
    if child == 0:
        sys.dont_write_bytecode = client is not None
        _run(tests, cpu_s)
    handle = os.pidfd_open(child)
    try:
        ready, _, _ = select.select([handle] if client is None else [client, handle], [], [], bound_s)
        if handle not in ready:
            os.killpg(child, signal.SIGKILL)
    finally:
        os.close(handle)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status) == 0


def _run(tests: Sequence[str], cpu_s: int) -> None:
    code = 1
    try:
        os.setsid()
        signal.signal(signal.SIGINT, signal.default_int_handler)  # which a shell's background job has lost
        resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 1))
        sink = os.open(os.environ.get("MUTATION_OUTPUT", os.devnull), os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        os.dup2(sink, 1)
        os.dup2(sink, 2)
        import pytest

        code = int(pytest.main([*PYTEST, *tests]))
        sys.stdout.flush()
    finally:
        os._exit(code)
