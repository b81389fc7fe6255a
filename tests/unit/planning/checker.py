"""Plans of charge-session added up anew, for tests: second by second, from the cell model's equations.

Nothing of the service is used but the tables of open-circuit voltage. All charges of all sessions go side by side in
explicit steps of a second: the constant current exactly, what follows to some tenths of a percent.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from ampstead.cell.kinds import tables

Floats = np.ndarray[Any, np.dtype[np.float64]]
TABLES = {"lipo": tables.AI_2020, "liion": tables.CHEN_2020, "life": tables.PRADA_2013}
ENDS = {"lipo": 4.2, "liion": 4.2, "life": 3.6}


@dataclass(frozen=True, kw_only=True)
class Job:
    """A charge of like cells in SI: capacity in coulomb."""

    chemistry: str
    cells: int
    capacity: float
    ohmic: float
    state: float
    current: float


def powers(jobs: Sequence[Job], lasting: Sequence[float]) -> tuple[list[Floats], Floats]:
    """Into each pack, W, at each second from its begin to a minute after it is said to end; when each ends, s."""
    sizes = np.array([int(time) + 60 for time in lasting], dtype=int)
    starts = np.concatenate([[0], np.cumsum(sizes)])
    put, ends = np.zeros(int(starts[-1]), dtype=np.float32), np.full(len(jobs), np.inf)
    for chemistry in {job.chemistry for job in jobs}:
        rows = np.array([n for n, job in enumerate(jobs) if job.chemistry == chemistry])
        z, Q, R0, I, cells = (
            np.array([getattr(jobs[n], name) for n in rows], dtype=float)
            for name in ("state", "capacity", "ohmic", "current", "cells")
        )
        w, end, second = np.zeros(len(rows)), ENDS[chemistry], 0
        while len(rows):
            U = np.interp(z, tables.STATES, TABLES[chemistry])
            held = (end - U - 0.5 * R0 * w) / R0
            over = (held <= 0.1 * I) | (z >= 1.0)
            ends[rows[over]] = second
            on = ~over & (second < sizes[rows])
            i = np.minimum(I, held)
            rows, z, Q, R0, I, cells, w, i, U = (values[on] for values in (rows, z, Q, R0, I, cells, w, i, U))
            put[starts[rows] + second] = cells * (U + i * R0 + 0.5 * R0 * w) * i
            w = i + (w - i) * np.exp(-1.0 / 30.0)
            z = z + i / Q
            second += 1
    return [put[a:b] for a, b in pairwise(starts)], ends
