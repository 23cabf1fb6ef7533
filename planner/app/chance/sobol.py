"""A scrambled Sobol sequence in few columns, number for number that of scipy, whose import alone takes a second.

Direction numbers of Joe & Kuo 2008, SIAM J Sci Comput 30:2635; a random lower triangular matrix and a digital shift
for each column, Matousek 1998, J Complexity 14:527; points in the order of the Gray code, Antonov & Saleev 1979, USSR
Comput Math 19:252.
"""

from __future__ import annotations

import numpy as np

from planner.model.records import Floats, Ints

BITS = 30

_POLYNOMIALS = (
    (0, 0, ()),
    (1, 0, (1,)),
    (2, 1, (1, 3)),
    (3, 1, (1, 3, 1)),
    (3, 2, (1, 1, 1)),
    (4, 1, (1, 1, 3, 3)),
)
"""Of each column: degree, inner coefficients as bits, first direction numbers."""

MOST_COLUMNS = len(_POLYNOMIALS)


def scrambled(doublings: int, columns: int, generator: np.random.Generator) -> Floats:
    """The first 2^doublings points in 0..1, (point, column).

    Raises ValueError for more than MOST_COLUMNS columns.
    """
    if columns > MOST_COLUMNS:
        raise ValueError(f"{columns} columns; there are direction numbers for {MOST_COLUMNS}")
    own = generator.spawn(1)[0]
    shift = own.integers(2, size=(columns, BITS), dtype=np.uint32) @ (
        np.uint32(1) << np.arange(BITS, dtype=np.uint32)
    )
    mixing = np.tril(own.integers(2, size=(columns, BITS, BITS), dtype=np.uint32))
    mixing[:, np.arange(BITS), np.arange(BITS)] = 1
    directions = _mixed(np.stack([_directions(column) for column in range(columns)]), mixing)
    changes = np.concatenate([shift[None].astype(np.int64), directions.T[_changed_bit(1 << doublings)]])
    return np.asarray(np.bitwise_xor.accumulate(changes, axis=0) / float(1 << BITS))


def _directions(column: int) -> Ints:
    """Direction numbers of a column, (bit,), the first one the highest bit."""
    degree, inner, first = _POLYNOMIALS[column]
    m = list(first) if degree else [1] * BITS
    for i in range(len(m), BITS):
        new = m[i - degree] ^ (m[i - degree] << degree)
        for k in range(1, degree):
            new ^= ((inner >> (degree - 1 - k)) & 1) * (m[i - k] << k)
        m.append(new)
    return np.array([value << (BITS - 1 - i) for i, value in enumerate(m)], dtype=np.int64)


def _mixed(directions: Ints, mixing: np.ndarray) -> Ints:
    """Every direction number times its column's matrix, bit by bit; the highest bit comes first."""
    places = np.arange(BITS - 1, -1, -1)
    bits = (directions[:, :, None] >> places) & 1  # (column, number, bit)
    found = np.einsum("cpk,cnk->cnp", mixing.astype(np.int64), bits) & 1
    return np.asarray((found << places).sum(axis=2))


def _changed_bit(points: int) -> Ints:
    """From each point to the next, which bit of the Gray code changes, (points - 1,)."""
    number = np.arange(1, points)
    return np.asarray(np.log2(number & -number), dtype=np.int64)
