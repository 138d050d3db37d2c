"""How long it takes to begin: importing the library, and the whole demo, each in a process of its own.

Run on demand: ``pytest tests/benchmarks --benchmark-enable -n 0``. The import is told beside bare Python, measured
in the same run.
"""

from __future__ import annotations

import subprocess
import sys


def _python(*arguments: str) -> None:
    subprocess.run([sys.executable, *arguments], check=True, capture_output=True)


def test_bare_python(benchmark):
    """What a process costs that does nothing."""
    benchmark.pedantic(_python, args=("-c", "pass"), rounds=15, iterations=1, warmup_rounds=2)


def test_importing_the_library(benchmark):
    """What ``import gingerly`` costs on top; a tenth of a second is the most that it may."""
    benchmark.pedantic(_python, args=("-c", "import gingerly"), rounds=15, iterations=1, warmup_rounds=2)


def test_the_demo(benchmark):
    """The whole job on the virtual machine, from the command line to the table; two seconds are the most."""
    benchmark.pedantic(_python, args=("-m", "gingerly", "demo"), rounds=5, iterations=1, warmup_rounds=1)
