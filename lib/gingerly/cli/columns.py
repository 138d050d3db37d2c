"""Text for terminals of 80 columns: broken between words, never within one."""

from __future__ import annotations

import sys
import textwrap

WIDTH = 78
"""Columns of the text that is told to people. Our own choice, for terminals of 80."""


def wrapped(text: str) -> str:
    """Return lines for people broken between words; what follows the first piece of a line is set in."""
    return "\n".join(_wrapped(line) for line in text.split("\n"))


def tell(text: str) -> None:
    """Write lines for people to stderr, broken between words."""
    print(wrapped(text), file=sys.stderr)


def _wrapped(line: str) -> str:
    indent = " " * (len(line) - len(line.lstrip()))
    return textwrap.fill(
        line, WIDTH, subsequent_indent=f"{indent}    ", break_long_words=False, break_on_hyphens=False
    )
