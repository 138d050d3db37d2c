"""`gingerly job schema`: the JSON Schema of a job file, so that an editor completes and checks it."""

from __future__ import annotations

import argparse
import json

from gingerly import job as jobs


def run(arguments: argparse.Namespace) -> int:
    """Print the schema, one JSON document; moves nothing."""
    assert arguments.what == "schema"
    print(json.dumps(jobs.schema(), ensure_ascii=False, indent=2))
    return 0
