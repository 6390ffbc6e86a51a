"""Where in a picture parallel bars stand, and how they are turned.

zxing-cpp looks for linear codes along rows and columns only and misses those turned by more than about 15 degrees
(measured). The direction of the strongest change in brightness tells how far to turn a part of the picture back.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

_BLOCK = 24
"""Pixels; a block holds several bars of a code that can be read at all."""
_ROWS = _BLOCK // 2
_PARALLEL = 0.55
_CONTRAST = 250.0
_SAME_DIRECTION = 12.0
_FEWEST_BLOCKS = 4
_WEAKEST = 25_000.0
"""The edge of a label has less; measured on made-up photos."""

Grid = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class BarredRegion:
    """``box`` in pixels (left, top, right, bottom); ``angle`` in degrees, counter-clockwise, lays the bars upright."""

    box: tuple[int, int, int, int]
    angle: float
    strength: float


def barred_regions(grey: Image.Image, most: int = 4) -> list[BarredRegion]:
    """Regions of parallel bars, the strongest first."""
    energy, parallel, angle = _directions(np.asarray(grey, dtype=np.float32))
    barred = {(int(row), int(column)) for row, column in np.argwhere((parallel > _PARALLEL) & (energy > _CONTRAST))}
    regions: list[BarredRegion] = []
    while barred:
        blocks = _connected(barred, angle)
        if len(blocks) >= _FEWEST_BLOCKS:
            regions.append(_region(blocks, energy, parallel, angle))
    strong = [region for region in regions if region.strength >= _WEAKEST]
    return sorted(strong, key=lambda region: -region.strength)[:most]


def _directions(pixels: Grid) -> tuple[Grid, Grid, Grid]:
    """For each block: contrast, how parallel its edges are (0 to 1), and their direction in degrees.

    Every second row tells enough, in half the time.
    """
    across = pixels[1:-1:2, 2:] - pixels[1:-1:2, :-2]
    down = pixels[2::2, 1:-1] - pixels[:-2:2, 1:-1]
    xx, yy, xy = _block_means(across * across), _block_means(down * down), _block_means(across * down)
    total = xx + yy
    parallel = np.hypot(xx - yy, 2 * xy) / np.maximum(total, 1e-6)
    return total, parallel, np.degrees(np.arctan2(2 * xy, xx - yy) / 2)


def _block_means(values: Grid) -> Grid:
    rows, columns = values.shape[0] // _ROWS, values.shape[1] // _BLOCK
    cut = values[: rows * _ROWS, : columns * _BLOCK]
    means: Grid = cut.reshape(rows, _ROWS, columns, _BLOCK).mean(axis=(1, 3))
    return means


def _connected(barred: set[tuple[int, int]], angle: Grid) -> list[tuple[int, int]]:
    """Take from ``barred`` one block and all that hang together with it in about its direction."""
    first = barred.pop()
    direction = float(angle[first])
    waiting, taken = [first], [first]
    while waiting:
        row, column = waiting.pop()
        for neighbour in [(row + y, column + x) for y in (-1, 0, 1) for x in (-1, 0, 1)]:
            if neighbour in barred and _apart(float(angle[neighbour]), direction) < _SAME_DIRECTION:
                barred.remove(neighbour)
                waiting.append(neighbour)
                taken.append(neighbour)
    return taken


def _apart(one: float, other: float) -> float:
    """Degrees between two directions, which are the same after half a turn."""
    return abs((one - other + 90) % 180 - 90)


def _region(blocks: list[tuple[int, int]], energy: Grid, parallel: Grid, angle: Grid) -> BarredRegion:
    rows, columns = [row for row, _ in blocks], [column for _, column in blocks]
    weights = np.array([energy[block] * parallel[block] for block in blocks])
    doubled = np.radians([2 * angle[block] for block in blocks])
    direction = np.degrees(np.arctan2((weights * np.sin(doubled)).sum(), (weights * np.cos(doubled)).sum()) / 2)
    box = (
        (min(columns) - 1) * _BLOCK,
        (min(rows) - 1) * _BLOCK,
        (max(columns) + 2) * _BLOCK,
        (max(rows) + 2) * _BLOCK,
    )
    return BarredRegion(box, float(direction), float(weights.sum()))
