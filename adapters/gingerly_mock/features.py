"""What may be milled into the blank, or left standing on it, so that there is something to find besides edges.

Sizes in mm. Places count inward from the stock's corner, along X and along Y. One feature a blank: its top face
is the highest face there is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from gingerly.driver import adapter
from gingerly_mock.solids import Block


@dataclass(frozen=True, slots=True)
class Bore:
    """A round hole, `deep` mm deep; deeper than the stock is thick, it goes right through."""

    x: float
    y: float
    diameter: float
    deep: float


@dataclass(frozen=True, slots=True)
class Boss:
    """A round post `height` mm high; the rest of the blank is lower by as much."""

    x: float
    y: float
    diameter: float
    height: float


@dataclass(frozen=True, slots=True)
class Pocket:
    """A rectangular hollow, `deep` mm deep, round about (x, y); a slot if it is long and narrow."""

    x: float
    y: float
    size_x: float
    size_y: float
    deep: float


@dataclass(frozen=True, slots=True)
class Island:
    """A block `height` mm high round about (x, y), a rib if it is long; the rest of the blank is lower by that."""

    x: float
    y: float
    size_x: float
    size_y: float
    height: float


Feature = Bore | Boss | Pocket | Island


def asked_for(feature: adapter.Feature) -> Feature:
    """Return what a scene asks for."""
    (x, y), (size_x, size_y), deep = feature.centre, feature.sizes, feature.deep
    match feature.kind:
        case "bore":
            return Bore(x, y, size_x, deep)
        case "boss":
            return Boss(x, y, size_x, deep)
        case "pocket":
            return Pocket(x, y, size_x, size_y, deep)
        case "island":
            return Island(x, y, size_x, size_y, deep)


def shaped(stock: Block, feature: Feature, *, swapped: bool) -> Iterator[Block]:
    """Yield the blocks that the stock consists of with this feature; `swapped` says that a runs along Y."""
    a, b = (feature.y, feature.x) if swapped else (feature.x, feature.y)
    if isinstance(feature, Bore | Boss):
        radius = feature.diameter / 2.0
        if isinstance(feature, Bore):
            yield replace(stock, hole=(a, b, radius))
            yield Block(a, a, b, b, stock.top - feature.deep, stock.kind, round_by=radius)
        else:
            yield replace(stock, top=stock.top - feature.height)
            yield Block(a, a, b, b, stock.top, stock.kind, round_by=radius)
        return
    half_a, half_b = feature.size_x / 2.0, feature.size_y / 2.0
    if swapped:
        half_a, half_b = half_b, half_a
    low_a, high_a, low_b, high_b = a - half_a, a + half_a, b - half_b, b + half_b
    if isinstance(feature, Island):
        yield replace(stock, top=stock.top - feature.height)
        yield Block(low_a, high_a, low_b, high_b, stock.top, stock.kind)
        return
    yield replace(stock, top=stock.top - feature.deep)
    yield replace(stock, high_a=low_a)
    yield replace(stock, low_a=high_a)
    yield replace(stock, low_a=low_a, high_a=high_a, high_b=low_b)
    yield replace(stock, low_a=low_a, high_a=high_a, low_b=high_b)
