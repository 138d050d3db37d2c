"""The JSON Schema of a job file, for editors that complete and check; made from the types that it is read with."""

from __future__ import annotations

from typing import Any

import msgspec

from gingerly.job.parts import JobTable


def schema() -> dict[str, Any]:
    """Return the schema (JSON Schema, draft 2020-12) as plain data."""
    made: dict[str, Any] = {"$schema": "https" + "://json-schema.org/draft/2020-12/schema"}
    made |= msgspec.json.schema(JobTable)
    made["title"] = "gingerly job"
    return made
