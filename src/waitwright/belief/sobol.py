"""Scrambled Sobol points: evenly spread draws in many dimensions.

Direction numbers: S. Joe and F. Y. Kuo, "Constructing Sobol sequences with better two-dimensional
projections", SIAM J. Sci. Comput. 30 (2008) 2635-2654, the set usually called new-joe-kuo-6.
Scrambling: a random lower-triangular matrix for each dimension and a digital shift
(J. Matousek, "On the L2-discrepancy for anchored boxes", J. Complexity 14 (1998) 527-556).
"""

from __future__ import annotations

from random import Random

import numpy as np
from numpy.typing import NDArray

from waitwright.belief._directions import DIRECTIONS

BITS = 30
MOST_DIMENSIONS = len(DIRECTIONS) + 1

_Words = NDArray[np.uint64]


def sobol(count: int, dimensions: int, seed: int | None = None) -> NDArray[np.float64]:
    """The first *count* points in (0, 1), shape (count, dimensions).

    Without *seed* the points are the plain sequence (its first point moved off zero by half a step);
    with one they are scrambled, always the same for the same seed.  A dimension does not depend on how many
    others there are.

    Raises:
        ValueError: if *count* is no power of two, or there are more dimensions than direction numbers.
    """
    if count < 1 or count & (count - 1):
        raise ValueError(f"the number of points must be a power of two, not {count}")
    if not 1 <= dimensions <= MOST_DIMENSIONS:
        raise ValueError(f"between 1 and {MOST_DIMENSIONS} dimensions, not {dimensions}")
    directions = np.stack([_direction_numbers(dimension) for dimension in range(dimensions)])
    shift = np.zeros(dimensions, dtype=np.uint64)
    if seed is not None:
        # Python's own generator is at hand, while numpy's takes 10 ms to import.
        chances = [Random(f"{seed} {dimension}") for dimension in range(dimensions)]  # noqa: S311 - no secret
        shift = np.array([chance.getrandbits(BITS) for chance in chances], dtype=np.uint64)
        directions = _scramble(directions, b"".join(chance.randbytes(BITS * BITS) for chance in chances))
    points = np.empty((count, dimensions), dtype=np.uint64)
    points[0] = shift
    filled = 1
    # Point 2^b + i is point i with direction number b added: Gray-code order is not needed for the set.
    for bit in range(count.bit_length() - 1):
        points[filled : 2 * filled] = points[:filled] ^ directions[:, bit]
        filled *= 2
    return (points.astype(np.float64) + 0.5) / float(1 << BITS)


def spread_points(count: int, dimensions: int, seed: int) -> NDArray[np.float64]:
    """Evenly spread points of any number of dimensions, shape (count, dimensions).

    Scrambled Sobol points as far as there are direction numbers; each further dimension is stratified by
    itself (a Latin hypercube: M. D. McKay and others, Technometrics 21 (1979) 239-245).
    """
    points = sobol(count, min(dimensions, MOST_DIMENSIONS), seed)
    if dimensions <= MOST_DIMENSIONS:
        return points
    further = []
    for dimension in range(MOST_DIMENSIONS, dimensions):
        random = np.random.default_rng([seed, dimension])
        further.append((random.permutation(count) + random.random(count)) / count)
    return np.column_stack([points, *further])


def _direction_numbers(dimension: int) -> _Words:
    """Direction numbers of one dimension, most significant bit first."""
    numbers = [0] * BITS
    if dimension == 0:
        for bit in range(BITS):
            numbers[bit] = 1 << (BITS - 1 - bit)
        return np.array(numbers, dtype=np.uint64)
    polynomial, initial = DIRECTIONS[dimension - 1]
    degree = len(initial)
    for bit in range(min(degree, BITS)):
        numbers[bit] = initial[bit] << (BITS - 1 - bit)
    for bit in range(degree, BITS):
        value = numbers[bit - degree] ^ (numbers[bit - degree] >> degree)
        for step in range(1, degree):
            if polynomial >> (degree - step) & 1:
                value ^= numbers[bit - step]
        numbers[bit] = value
    return np.array(numbers, dtype=np.uint64)


def _scramble(directions: _Words, chance: bytes) -> _Words:
    """Each dimension's direction numbers times a lower-triangular matrix of random bits."""
    dimensions = len(directions)
    scrambled = np.zeros_like(directions)
    places = np.arange(BITS)
    powers = (np.uint64(1) << (BITS - 1 - places).astype(np.uint64)).astype(np.uint64)
    bits = (np.frombuffer(chance, dtype=np.uint8) & 1).reshape(dimensions, BITS, BITS)
    matrices = np.tril(bits, -1) + np.eye(BITS, dtype=np.uint64)
    for dimension in range(dimensions):
        digits = (directions[dimension][:, None] // powers) & np.uint64(1)
        mixed = (digits @ matrices[dimension].T) & np.uint64(1)
        scrambled[dimension] = mixed @ powers
    return scrambled
