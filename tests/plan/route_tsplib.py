"""TSPLIB's format, as far as the three instances in ``data`` need it."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

DATA = Path(__file__).parent / "data"


def distances(name: str) -> NDArray[np.float64]:
    """The instance's distance matrix, whole numbers."""
    lines = (DATA / f"{name}.tsp").read_text().splitlines()
    body = [line.split() for line in lines if line[:1].isdigit()]
    if "EDGE_WEIGHT_TYPE: GEO" in lines:
        return _geo([(float(x), float(y)) for _, x, y in body])
    numbers = [int(word) for row in body for word in row]
    n = int(next(line.split()[1] for line in lines if line.startswith("DIMENSION")))
    assert len(numbers) == n * (n + 1) // 2
    matrix = np.zeros((n, n))
    matrix[np.tril_indices(n)] = numbers
    return matrix + matrix.T


def _geo(places: list[tuple[float, float]]) -> NDArray[np.float64]:
    """TSPLIB 95, 2.4: degrees are truncated (not rounded), PI is 3.141592, the earth 6378.388."""

    def radians(x: float) -> float:
        degrees = math.trunc(x)
        return 3.141592 * (degrees + 5.0 * (x - degrees) / 3.0) / 180.0

    n = len(places)
    matrix = np.zeros((n, n))
    for i, (lat_i, lon_i) in enumerate(places):
        for j, (lat_j, lon_j) in enumerate(places):
            if i != j:
                q1 = math.cos(radians(lon_i) - radians(lon_j))
                q2 = math.cos(radians(lat_i) - radians(lat_j))
                q3 = math.cos(radians(lat_i) + radians(lat_j))
                matrix[i, j] = int(6378.388 * math.acos(0.5 * ((1.0 + q1) * q2 - (1.0 - q1) * q3)) + 1.0)
    return matrix
