"""A process with everything imported but the code under test: it forks, and the fork runs the tests of one mutant.

Starting Python and importing what the tests need takes longer than most tests of a mutant. The fork imports
`gingerly` from its (mutated) files and writes no byte code, so no mutant can be taken for another one. Each run is
bounded in processor time, so that a busy machine makes no mutant look endless.
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
        if not all(_passes(None, tests, cpu_s, first=True) for tests in stages):
            raise SystemExit("the tests do not pass as the code stands, so they can judge no mutant")
        door.bind(address)
        door.listen()
        while True:
            client, _ = door.accept()
            with client, contextlib.suppress(OSError):
                client.sendall(bytes([_judge(client, stages, cpu_s)]))


def _judge(client: socket.socket, stages: Sequence[Sequence[str]], cpu_s: int) -> int:
    return int(not all(_passes(client, tests, cpu_s) for tests in stages))


def _passes(client: socket.socket | None, tests: Sequence[str], cpu_s: int, *, first: bool = False) -> bool:
    """Run these tests in a fork; give up when the client has gone, which is how it is told that time is up."""
    child = os.fork()
    if child == 0:
        sys.dont_write_bytecode = not first
        _run(tests, cpu_s)
    handle = os.pidfd_open(child)
    try:
        ready, _, _ = select.select([handle] if client is None else [client, handle], [], [])
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
