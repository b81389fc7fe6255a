"""Charges of many packs at once: `charge` in arrays, one row per pack.

A pack of equal cells is followed as one cell, in arrays of shape (N,); cells that differ, in shape (N, cells). Every
event of `charge` is the first zero of one form,

    f(t) = a + d1·∫ exp(λ1·t) dt + d2·∫ exp(λ2·t) dt    (1)

with the two rates of `taper`: for the charge that is left to the next point of the table, for the current under
constant voltage, for another cell's distance from the end voltage. All rows take their next event together.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..kinds.curves import Curve
from .arrays import Curves, Floats, first_fall, grown, rows

_TAKES_OVER = 1e-9
_EQUAL = 1e-12
_LEAST_SPLIT = 1e-5


@dataclass(frozen=True, eq=False, kw_only=True)
class Charges:
    """What N charges come to: shape (N,), and `states_end` shaped as the states were. SI units, into the pack."""

    time_constant_current: Floats
    time_constant_voltage: Floats
    time_total: Floats
    charge: Floats
    energy: Floats
    """At the terminals: of one cell where the pack was given as equal cells, of all where each was given."""
    first_current: Floats
    """The largest that flows; below the set current where constant voltage holds from the first."""
    states_end: Floats
    highest_cell: NDArray[np.intp]
    """The cell (from 0) that first reaches the end voltage; the highest at the end if none does."""
    charge_then: Floats
    """What has gone in by the time asked about, or by the end."""
    energy_then: Floats
    """The energy by then, as `energy`."""
    states_then: Floats


def charges(
    curve: Curve,
    states: ArrayLike,
    capacities: ArrayLike,
    ohmic: ArrayLike,
    polarisation: ArrayLike,
    time_constants: ArrayLike,
    currents: ArrayLike,
    end_voltages: ArrayLike,
    end_currents: ArrayLike,
    times: ArrayLike = np.inf,
) -> Charges:
    """N charges at constant current, then constant voltage, as `charge.charge` works out each of them.

    `states`, `capacities`, `ohmic` and `polarisation` have shape (N,), a pack of equal cells, or (N, cells);
    `time_constants`, `currents`, `end_voltages` (per cell), `end_currents` and `times` have shape (N,). Numbers stand
    for all rows. All cells on one curve. `times` in s are those by which charge, energy and states are told beside
    those of the end (`charge.Charge.at`); each charge runs to its end all the same.

    Agrees with the scalar solver to 1e-12 of the total time, charge and energy. `time_constant_voltage` alone is that
    near in seconds, not in relation to itself: where it is far shorter than the whole it keeps the rounding of the
    instant at which it began. Nor does it hold for an end current below about 1e-4 of the set one at an end voltage at
    the very top of the table: the rounding of the state then moves the instant at which that is met.
    """
    (z, Q, R0, R1), (tau, I, V_end, I_end, until), flat = rows(
        (states, capacities, ohmic, polarisation), (time_constants, currents, end_voltages, end_currents, times)
    )
    if not (np.all(I > 0.0) and np.all(I_end > 0.0) and np.all(np.isfinite(Q))):
        raise ValueError("a charge needs a current and an end current above 0, and finite capacities")
    if not np.all(until >= 0.0):
        raise ValueError("times must be 0 or above")
    run = _Run(Curves(curve, z, Q, +1), R0, R1, tau, I, V_end, I_end, until)
    run.constant_current()
    run.constant_voltage()
    over = until >= run.t
    charge_then, energy_then = np.where(over, run.q, run.q_then), np.where(over, run.energy, run.energy_then)
    states_end, states_then = (
        np.where(q[:, None] >= run.curves.end, 1.0, np.minimum(z + q[:, None] / Q, 1.0)) for q in (run.q, charge_then)
    )
    return Charges(
        time_constant_current=run.steady,
        time_constant_voltage=run.t - run.steady,
        time_total=run.t,
        charge=run.q,
        energy=run.energy,
        first_current=np.where(run.t > 0.0, run.first, 0.0),
        states_end=states_end[:, 0] if flat else states_end,
        highest_cell=run.highest(),
        charge_then=charge_then,
        energy_then=energy_then,
        states_then=states_then[:, 0] if flat else states_then,
    )


class _Run:
    """N charges under way: t, q, w and the energy of each row, and the cell that controls it (−1: none).

    `q_then` and `energy_then` are those by `until`, in rows that have come so far.
    """

    def __init__(
        self, curves: Curves, R0: Floats, R1: Floats, tau: Floats, I: Floats, V: Floats, I_end: Floats, until: Floats
    ) -> None:
        self.curves, self.R0, self.R1, self.tau = curves, R0, R1, tau
        self.I, self.V, self.I_end, self.until = I, V, I_end, until
        self.t, self.q, self.w, self.energy, self.q_then, self.energy_then = (np.zeros(len(tau)) for _ in range(6))
        self.controls = np.full(len(tau), -1, dtype=np.intp)
        self.holding: NDArray[np.intp] = np.empty(0, dtype=np.intp)

    def constant_current(self) -> None:
        """Up to the end voltage or a full cell, whichever is first; no time at all where the voltage holds at once."""
        curves, R0, R1, tau, i = self.curves, self.R0, self.R1, self.tau, self.I
        at_once = ((self.V[:, None] - curves.start) / R0).min(axis=1)
        full = curves.end.min(axis=1)
        runs = (full > 0.0) & (at_once > i)
        crossing = curves.meeting(i, R0, R1, tau, self.V)
        least = crossing.argmin(axis=1)
        meets = np.take_along_axis(crossing, least[:, None], axis=1)[:, 0]
        crossed = runs & (meets <= full / i)
        self.t = np.where(runs, np.minimum(np.where(crossed, meets, np.inf), full / i), 0.0)
        self.first = np.where(runs, i, np.maximum(at_once, 0.0))
        self.steady = self.t.copy()
        self.q = np.where(runs & ~crossed, full, i * self.t)
        self.w = -i * np.expm1(-self.t / tau)
        self.energy = self._steady_energy(self.t, self.q)
        stopped = np.minimum(self.until, self.t)
        if np.any(stopped < self.t):
            self.q_then = np.where(stopped < self.t, i * stopped, self.q)
            self.energy_then = self._steady_energy(stopped, self.q_then)
        self.controls = np.where(crossed, least, -1)
        holds = crossed | (~runs & (full > 0.0) & (at_once > self.I_end))
        self.holding = np.flatnonzero(holds)

    def _steady_energy(self, t: Floats, q: Floats) -> Floats:
        """By a time at constant current, and the charge by then."""
        squares = self.I * self.I * t
        slow = squares + self.I * self.I * self.tau * np.expm1(-t / self.tau)  # ∫ w·i dt
        energy: Floats = (self.curves.area(q) + self.R0 * squares[:, None] + self.R1 * slow[:, None]).sum(axis=1)
        return energy

    def constant_voltage(self) -> None:
        """From event to event: a point of the table, another cell at the end voltage, the end current."""
        on, first = self.holding, True
        at = self.curves.segment(self.q[:, None])[on]
        for _ in range(1000 + 100 * self.curves.most):
            if not len(on):
                return
            U, slope, room = self.curves.here(on, at, self.q[on])
            controls, i = self._controlling(on, U, slope)
            if first:
                new = self.controls[on] < 0
                self.controls[on] = np.where(new, controls, self.controls[on])
                first = False
            goes_on = (i > self.I_end[on]) & (room > 0.0)
            on, at, U, slope, room = on[goes_on], at[goes_on], U[goes_on], slope[goes_on], room[goes_on]
            controls, i = controls[goes_on], i[goes_on]
            if len(on):
                goes_on = self._event(on, U, slope, room, controls, i)
                on, at = on[goes_on], at[goes_on]
                at = self.curves.passed(on, at, self.q[on])
        raise ArithmeticError("constant voltage does not come to an end")

    def _controlling(self, on: NDArray[np.intp], U: Floats, slope: Floats) -> tuple[NDArray[np.intp], Floats]:
        """The cell that allows the least current, and that current; of equals, the fastest falling."""
        R0, R1, w = self.R0[on], self.R1[on], self.w[on][:, None]
        currents = (self.V[on][:, None] - U - R1 * w) / R0
        if currents.shape[1] == 1:
            return np.zeros(len(on), dtype=np.intp), currents[:, 0]
        least = currents.min(axis=1, keepdims=True)
        rise = -(slope * least + R1 * (least - w) / self.tau[on][:, None]) / R0
        controls = np.where((currents - least) * R0 <= _EQUAL, rise, np.inf).argmin(axis=1)
        return controls, np.take_along_axis(currents, controls[:, None], axis=1)[:, 0]

    def _event(
        self, on: NDArray[np.intp], U: Floats, slope: Floats, room: Floats, controls: NDArray[np.intp], i0: Floats
    ) -> NDArray[np.bool_]:
        """One event further; which rows go on."""
        R0, R1, w0, tau, I_end = self.R0[on], self.R1[on], self.w[on], self.tau[on], self.I_end[on]
        row = np.arange(len(on))
        law = _Law(i0, w0, slope[row, controls], R0[row, controls], R1[row, controls], tau)
        longest = room / I_end
        filled = first_fall(room, -law.c1, -law.c2, law.rate1, law.rate2, longest)
        dt = np.minimum(filled, longest)
        tapered = first_fall(i0 - I_end, law.c1 * law.rate1, law.c2 * law.rate2, law.rate1, law.rate2, dt)
        ended = tapered <= dt
        dt = np.where(ended, tapered, dt)
        taken_over = np.zeros(len(on), dtype=bool)
        if U.shape[1] > 1:
            gap = (self.V[on] + _TAKES_OVER)[:, None] - U - R0 * i0[:, None] - R1 * w0[:, None]
            rise1, rise2 = (
                slope * c[:, None] + (R0 * c[:, None] + R1 * g[:, None]) * rate[:, None]
                for c, g, rate in ((law.c1, law.g1, law.rate1), (law.c2, law.g2, law.rate2))
            )
            gap[row, controls] = np.inf
            meets = first_fall(gap, -rise1, -rise2, law.rate1[:, None], law.rate2[:, None], dt[:, None]).min(axis=1)
            taken_over = meets < dt
            dt = np.where(taken_over, meets, dt)
            ended &= ~taken_over
        short = ended | taken_over
        I1, I2 = grown(law.rate1, dt), grown(law.rate2, dt)
        passed = np.where(short, np.minimum(law.c1 * I1 + law.c2 * I2, room), room)

        def energy(dt: Floats, passed: Floats) -> Floats:
            squares, products = law.squares(dt)
            middle = U + 0.5 * slope * passed[:, None]
            put: Floats = (middle * passed[:, None] + R0 * squares[:, None] + R1 * products[:, None]).sum(axis=1)
            return put

        left = self.until[on] - self.t[on]
        within = (left >= 0.0) & (left < dt)
        if np.any(within):
            by = np.where(within, left, dt)
            then = np.minimum(law.c1 * grown(law.rate1, by) + law.c2 * grown(law.rate2, by), room)
            self.q_then[on] = np.where(within, self.q[on] + then, self.q_then[on])
            self.energy_then[on] = np.where(within, self.energy[on] + energy(by, then), self.energy_then[on])
        self.energy[on] += energy(dt, passed)
        self.t[on] += dt
        self.q[on] += passed
        self.w[on] = law.g1 * (1.0 + law.rate1 * I1) + law.g2 * (1.0 + law.rate2 * I2)
        return ~ended

    def highest(self) -> NDArray[np.intp]:
        i = np.where(self.t > 0.0, self.first, 0.0)[:, None]
        V = self.curves.voltage(self.q[:, None]) + self.R0 * i + self.R1 * self.w[:, None]
        return np.where(self.controls < 0, V.argmax(axis=1), self.controls)


class _Law:
    """`taper.Taper`, one per row."""

    def __init__(self, i0: Floats, w0: Floats, b: Floats, R0: Floats, R1: Floats, tau: Floats) -> None:
        k = R1 / (tau * R0)
        p = b / R0 + k
        mean = -0.5 * (p + 1.0 / tau)
        split = np.sqrt((p - 1.0 / tau) ** 2 + 4.0 * k / tau)
        apart = split > -_LEAST_SPLIT * mean
        split = np.where(apart, split, -_LEAST_SPLIT * mean)
        self.rate2 = mean - 0.5 * split
        self.rate1 = np.where(apart, b / (tau * R0) / self.rate2, mean + 0.5 * split)
        split = self.rate1 - self.rate2
        self.c1 = (-p * i0 + k * w0 - self.rate2 * i0) / split
        self.c2 = i0 - self.c1
        self.g1 = ((i0 - w0) / tau - self.rate2 * w0) / split
        self.g2 = w0 - self.g1

    def squares(self, t: Floats) -> tuple[Floats, Floats]:
        """∫ i² dt and ∫ w·i dt."""
        first, both, second = (grown(rate, t) for rate in (2.0 * self.rate1, self.rate1 + self.rate2, 2.0 * self.rate2))
        c1, c2, g1, g2 = self.c1, self.c2, self.g1, self.g2
        return (
            c1 * c1 * first + 2.0 * c1 * c2 * both + c2 * c2 * second,
            c1 * g1 * first + (c1 * g2 + c2 * g1) * both + c2 * g2 * second,
        )
