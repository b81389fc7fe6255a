"""A pack of cells in series, and the path each of its cells takes through its open-circuit curve.

All cells of a series pack share one current i, and one time constant τ is assumed for all. From rest, with

    q' = i,  q(0) = 0                    (1)
    w' = (i − w)/τ,  w(0) = 0            (2)

cell j has the state z_j = z0_j ± q/Q_j and the voltage R1_j·w across its slow part. The pair (q, w) is the
whole state of any pack, and every open-circuit voltage is piecewise linear in q.
"""

from bisect import bisect_right
from collections.abc import Collection, Mapping, Sequence
from functools import cached_property
from math import inf, isinf

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..kinds.curves import Curve

Floats = NDArray[np.float64]

_SAME_POINT = 1e-12


class Track:
    """The open-circuit voltage of `count` equal cells against the charge q that has passed, in one direction.

    Straight between `charges`, held after the last of them. `slopes` has one entry per point, 0 after the
    last. Point 1 is the one at `_place` of the curve's table, those after it go on by `_sign`.
    """

    __slots__ = (
        "_areas",
        "_place",
        "_sign",
        "capacity",
        "charges",
        "count",
        "member",
        "ohmic",
        "polarisation",
        "slopes",
        "state",
        "voltages",
    )

    def __init__(
        self,
        curve: Curve,
        sign: int,
        state: float,
        capacity: float,
        ohmic: float,
        polarisation: float,
        count: int,
        member: int,
    ) -> None:
        self.state, self.capacity = state, capacity
        self.ohmic, self.polarisation = ohmic, polarisation
        self.count, self.member = count, member
        z, u, slope = curve.points
        self._areas, self._sign, self._place = curve.areas, sign, 0
        at = min(max(bisect_right(z, state) - 1, 0), len(z) - 2)
        start = u[at] + slope[at] * (state - z[at])
        self.charges, self.voltages, self.slopes = [0.0], [start], [0.0]
        if not isinf(capacity):
            if sign > 0:
                first = self._place = bisect_right(z, state + _SAME_POINT)
                self.charges += [(point - state) * capacity for point in z[first:]]
                self.voltages += u[first:]
                self.slopes = [piece / capacity for piece in slope[first - 1 :]] + [0.0]
            else:
                last = bisect_right(z, state - _SAME_POINT)
                self._place = last - 1
                self.charges += [(state - point) * capacity for point in z[:last][::-1]]
                self.voltages += u[:last][::-1]
                self.slopes = [-piece / capacity for piece in slope[:last][::-1]] + [0.0]
                if last == len(z):
                    del self.slopes[0]
        if len(self.slopes) != len(self.charges):
            raise AssertionError("one slope per point")

    def resisting(self, ohmic: float, polarisation: float) -> "Track":
        """The same path of cells with their resistances by these factors."""
        made = Track.__new__(Track)
        made.charges, made.voltages, made.slopes = self.charges, self.voltages, self.slopes
        made._areas, made._sign, made._place = self._areas, self._sign, self._place
        made.state, made.capacity, made.count, made.member = self.state, self.capacity, self.count, self.member
        made.ohmic, made.polarisation = self.ohmic * ohmic, self.polarisation * polarisation
        return made

    @classmethod
    def mean(cls, tracks: "Sequence[Track]", points: int) -> "Track":
        """All cells of a pack as so many of their mean, straight between about so many of their points."""
        members = [track.count for track in tracks]
        every = knots(tracks)
        kept = np.array(sorted({*every[:: -(-len(every) // points)], *(track.end for track in tracks)}))
        each = [np.interp(kept, track.charges, track.voltages) for track in tracks]
        mean = cls.__new__(cls)
        mean.count, mean.member, mean.state, mean.capacity = sum(members), 0, tracks[0].state, float(kept[-1])
        mean.ohmic = float(np.average([track.ohmic for track in tracks], weights=members))
        mean.polarisation = float(np.average([track.polarisation for track in tracks], weights=members))
        voltages = np.average(each, axis=0, weights=members)
        mean.charges, mean.voltages = kept.tolist(), voltages.tolist()
        mean.slopes = [*(np.diff(voltages) / np.diff(kept)).tolist(), 0.0]
        mean._areas, mean._sign, mean._place = [], 1, 0
        return mean

    @property
    def end(self) -> float:
        """The charge at which the cell is full or empty; infinite where its capacity is."""
        return self.charges[-1] if not isinf(self.capacity) or self.state == 0.0 else self.capacity

    def segment(self, q: float) -> int:
        return bisect_right(self.charges, q) - 1

    def voltage(self, q: float) -> float:
        k = bisect_right(self.charges, q) - 1
        return self.voltages[k] + self.slopes[k] * (q - self.charges[k])

    def area(self, q: float) -> float:
        """∫ U dq from 0, joules per cell.

        Within the first and the last piece by themselves and between points of the table by difference, so that a
        small charge keeps its digits.
        """
        charges, voltages, place = self.charges, self.voltages, self._place
        k = bisect_right(charges, q) - 1
        width = q - charges[k]
        last = (voltages[k] + 0.5 * self.slopes[k] * width) * width
        if k == 0:
            return last
        between = self._areas[place + self._sign * (k - 1)] - self._areas[place]
        return 0.5 * (voltages[0] + voltages[1]) * charges[1] + self._sign * between * self.capacity + last


def knots(tracks: Sequence[Track]) -> list[float]:
    """Every charge at which the path of any of some cells bends, rising."""
    return sorted({q for track in tracks for q in track.charges})


Kind = tuple[float, float, float, float]
"""State of charge, capacity, R0 and R1 of cells that are equal in all of them."""


class SeriesPack:
    """Cells in series, at rest.

    One entry per cell (a single number stands for all): `states` 0…1, `capacities` in coulomb (infinite
    where unknown: the state stays put), `ohmic` R0 > 0 and `polarisation` R1 ≥ 0 in ohms. `time_constant` τ
    > 0 in seconds, for all. ValueError for figures beyond these. What is kept are the kinds of cells; nothing
    of a pack is to be written to.
    """

    def __init__(
        self,
        curve: Curve,
        states: ArrayLike,
        capacities: ArrayLike,
        ohmic: ArrayLike,
        polarisation: ArrayLike,
        time_constant: float,
    ) -> None:
        arrays = [np.array(part, dtype=float, ndmin=1) for part in (states, capacities, ohmic, polarisation)]
        members: dict[Kind, list[int]] = {}
        for member, kind in enumerate(zip(*[part.tolist() for part in np.broadcast_arrays(*arrays)], strict=True)):
            members.setdefault(kind, []).append(member)
        self._made(curve, members, time_constant)

    @classmethod
    def alike(cls, curve: Curve, cells: int, kind: Kind, time_constant: float) -> "SeriesPack":
        """So many cells of one kind: what the other way makes of single numbers, at a fifth of its cost."""
        made = cls.__new__(cls)
        made._made(curve, {kind: range(cells)}, time_constant)
        return made

    def _made(self, curve: Curve, members: Mapping[Kind, Sequence[int]], time_constant: float) -> None:
        # Written so that what is not a number is refused as well.
        for z, Q, R0, R1 in members:
            if not 0.0 <= z <= 1.0:
                raise ValueError("states of charge lie in 0…1")
            if not (Q > 0.0 and R0 > 0.0 and R1 >= 0.0):
                raise ValueError(
                    "capacities and ohmic resistances must be above 0, polarisation resistances 0 or above"
                )
        if not 0.0 < time_constant < inf:
            raise ValueError("the time constant must be above 0")
        self.curve, self.time_constant, self._members = curve, time_constant, members

    def resisting(self, ohmic: float, polarisation: float, time_constant: float) -> "SeriesPack":
        """The same cells with their resistances by these factors, above 0; the paths through the curve stay theirs."""
        members = {(z, Q, R0 * ohmic, R1 * polarisation): at for (z, Q, R0, R1), at in self._members.items()}
        if len(members) < len(self._members):  # rounding has made two kinds one
            R0s, R1s = self.ohmic * ohmic, self.polarisation * polarisation
            return SeriesPack(self.curve, self.states, self.capacities, R0s, R1s, time_constant)
        made = SeriesPack.__new__(SeriesPack)
        made.curve, made.time_constant, made._members = self.curve, time_constant, members
        for name in ("charging", "discharging"):
            if name in self.__dict__:
                tracks = [track.resisting(ohmic, polarisation) for track in self.__dict__[name]]
                made.__dict__[name] = tuple(tracks)
        return made

    def having(self, *, capacities: ArrayLike | None = None, resistance: float | Floats = 1.0) -> "SeriesPack":
        """The same cells with other capacities, or with both of their resistances by a factor."""
        Qs = self.capacities if capacities is None else capacities
        R0s, R1s = self.ohmic * resistance, self.polarisation * resistance
        return SeriesPack(self.curve, self.states, Qs, R0s, R1s, self.time_constant)

    @property
    def kinds(self) -> Collection[Kind]:
        """The kinds of cells that there are, by their first."""
        return self._members.keys()

    @cached_property
    def cells(self) -> int:
        return sum(map(len, self._members.values()))

    @cached_property
    def states(self) -> Floats:
        return self.spread([z for z, _, _, _ in self._members])

    @cached_property
    def capacities(self) -> Floats:
        return self.spread([Q for _, Q, _, _ in self._members])

    @cached_property
    def ohmic(self) -> Floats:
        return self.spread([R0 for _, _, R0, _ in self._members])

    @cached_property
    def polarisation(self) -> Floats:
        return self.spread([R1 for _, _, _, R1 in self._members])

    @cached_property
    def rest_voltages(self) -> Floats:
        return self.curve.voltage(self.states)

    @property
    def rest_voltage(self) -> float:
        return float(self.rest_voltages.sum())

    def _tracks(self, sign: int) -> tuple[Track, ...]:
        return tuple(Track(self.curve, sign, *kind, len(at), at[0]) for kind, at in self._members.items())

    @cached_property
    def charging(self) -> tuple[Track, ...]:
        """One track per kind of cell, upwards: equal cells are followed once."""
        return self._tracks(+1)

    @cached_property
    def discharging(self) -> tuple[Track, ...]:
        """The same, downwards."""
        return self._tracks(-1)

    def spread(self, values: Sequence[float]) -> Floats:
        """One value per kind of cell, laid out per cell."""
        cells = [0.0] * self.cells
        for value, members in zip(values, self._members.values(), strict=True):
            for member in members:
                cells[member] = value
        return np.array(cells)
