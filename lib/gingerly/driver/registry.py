"""Adapters by name: the one door through which built-in and foreign adapters come in.

An adapter registers itself as an entry point in the group ``gingerly.adapters``; its value is called with the
options that the caller gives, and returns an adapter.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable
from importlib.metadata import EntryPoint, entry_points

from gingerly.driver.adapter import Adapter

GROUP = "gingerly.adapters"


def installed() -> dict[str, EntryPoint]:
    """Return the entry points of all installed adapters by name.

    Raises `ValueError` when two distributions register different adapters under one name: neither may win in
    silence.
    """
    found: dict[str, EntryPoint] = {}
    for point in entry_points(group=GROUP):
        other = found.setdefault(point.name, point)
        if other.value != point.value:
            raise ValueError(
                f"two adapters are called {point.name!r}: {other.value} and {point.value}; uninstall one"
            )
    return found


def make(name: str, options: dict[str, object]) -> Adapter:
    """Return a new adapter of this name, not opened yet.

    Raises `ValueError` for a name that is not installed, or for options that the adapter does not take.
    """
    points = installed()
    if name not in points:
        near = difflib.get_close_matches(name, points, n=1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise ValueError(
            f"no adapter is called {name!r}; installed are: {', '.join(sorted(points)) or 'none'}{hint}"
        )
    factory: Callable[..., Adapter] = points[name].load()
    try:
        return factory(**options)
    except TypeError as error:
        raise ValueError(f"adapter {name!r}: {error}") from error
