"""The same runs on an existing Dask cluster, whose workers must have the same gingerly installed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from gingerly.rehearse.many import chunk_of
from gingerly.rehearse.run import RunRecord
from gingerly.rehearse.script import Script

PATIENCE_S = 5
"""How long a scheduler may take to answer, in seconds. Our own choice."""


def on_cluster(script: Script, chunks: Sequence[Sequence[int]], address: str) -> Iterator[list[RunRecord]]:
    """Yield the records of each chunk as it is ready, made by the workers of the scheduler at `address`.

    Raises `ImportError` without the optional extra, and `OSError` where no scheduler answers there.
    """
    client = _connected(address)
    from distributed import as_completed

    with client:
        whole = client.scatter(script, broadcast=True)
        futures = client.map(chunk_of, [whole] * len(chunks), [list(numbers) for numbers in chunks], pure=False)
        for _, records in as_completed(futures, with_results=True):
            yield records


def _connected(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError as error:
        raise ImportError("a scheduler needs the optional extra: install gingerly[dask]") from error
    try:
        return Client(address, timeout=PATIENCE_S)
    except (OSError, TimeoutError, ValueError) as error:
        raise OSError(f"no scheduler answers at {address!r}: {error}") from error
