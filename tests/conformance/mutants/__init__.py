"""Adapters with one bug each, and the check that must catch it.

Each is the example adapter with one thing changed, in memory and in virtual time. What the bug is stands in the
first line of its class.
"""

from conformance.mutants import (
    cancellation,
    facts_and_door,
    numbers_and_ways,
    offsets,
    senses_in_trouble,
    snapshots,
    stops_and_senses,
    traverses,
    trouble_and_sharing,
)
from conformance.mutants.mutant import MUTANTS, Mutant

__all__ = [
    "MUTANTS",
    "Mutant",
    "cancellation",
    "facts_and_door",
    "numbers_and_ways",
    "offsets",
    "senses_in_trouble",
    "snapshots",
    "stops_and_senses",
    "traverses",
    "trouble_and_sharing",
]
