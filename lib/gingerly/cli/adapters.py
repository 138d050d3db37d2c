"""`gingerly adapters`: which adapters are installed, and what each is for."""

from __future__ import annotations

import argparse
import inspect
import json
import sys

from gingerly.driver.registry import installed
from gingerly.job.problems import printable


def run(arguments: argparse.Namespace) -> int:
    """Print the installed adapters; moves nothing."""
    try:
        points = installed()
    except ValueError as error:
        print(printable(str(error)), file=sys.stderr)
        return 1
    found = []
    for name in sorted(points):
        point = points[name]
        package = point.dist.name if point.dist is not None else None
        found.append({"name": name, "package": package, "entry_point": point.value, "about": _about(point)})
    if arguments.json:
        print(json.dumps({"format": 1, "adapters": found}, ensure_ascii=False, indent=2))
        return 0
    for entry in found:
        print(f"{entry['name']:<12} {entry['about']}")
        print(f"{'':<12} {entry['entry_point']}, from {entry['package'] or 'an unknown package'}")
    if not found:
        print("no adapter is installed", file=sys.stderr)
    return 0


def _about(point: object) -> str:
    try:
        adapter = point.load()  # type: ignore[attr-defined]
    except Exception as error:  # a foreign package may fail in any way; the list goes on
        return printable(f"cannot be loaded: {type(error).__name__}: {error}")[:200]
    return printable((inspect.getdoc(adapter) or "says nothing about itself").split("\n", 1)[0])
