"""Flights by scipy: the cell model's equations written out anew, for tests to hold the service's own against.

Nothing of the service is used. Each cell has w and T of its own, resistances follow T, and the load changes with time.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

RG = 8.31446261815324
Floats = np.ndarray[Any, np.dtype[np.float64]]


@dataclass(frozen=True, kw_only=True)
class Cells:
    """Per cell, SI; `table` is the open-circuit curve as states and voltages."""

    table: tuple[Floats, Floats]
    states: Floats
    capacities: Floats
    ohmic: Floats
    polarisation: Floats
    tau: float
    heat_capacity: Floats
    start: float
    ambient: float
    cooling: float
    entropy: float
    activation: float = 20000.0
    lead: float = 0.0

    def emf(self, q: float) -> Floats:
        return np.asarray(np.interp(self.states - q / self.capacities, *self.table))

    def ratio(self, T: Floats) -> Floats:
        return np.asarray(np.exp(self.activation / RG * (1.0 / T - 1.0 / self.start)))

    def split(self, y: Floats) -> tuple[float, Floats, Floats]:
        n = len(self.states)
        return float(y[0]), y[1 : 1 + n], y[1 + n : 1 + 2 * n]

    def current(self, y: Floats, load: tuple[str, float]) -> float:
        kind, value = load
        if kind == "current":
            return value
        q, drop, T = self.split(y)
        E = float((self.emf(q) - drop).sum())
        R = float((self.ohmic * self.ratio(T)).sum()) + self.lead
        return float((E - np.sqrt(max(E * E - 4.0 * R * value, 0.0))) / (2.0 * R))

    def voltages(self, y: Floats, load: tuple[str, float]) -> Floats:
        q, drop, T = self.split(y)
        return np.asarray(self.emf(q) - self.current(y, load) * self.ohmic * self.ratio(T) - drop)

    def rates(self, y: Floats, load: tuple[str, float]) -> Floats:
        q, drop, T = self.split(y)
        i, ratio = self.current(y, load), self.ratio(T)
        lost = i * (i * self.ohmic * ratio + drop)
        warming = lost - i * T * self.entropy - self.cooling * (T - self.ambient)
        V = float((self.emf(q) - i * self.ohmic * ratio - drop).sum())
        return np.concatenate(
            [[i], (i * self.polarisation * ratio - drop) / self.tau, warming / self.heat_capacity, [i * V]]
        )

    def rested(self) -> Floats:
        n = len(self.states)
        return np.concatenate([np.zeros(1 + n), np.full(n, self.start), [0.0]])


@dataclass(frozen=True)
class Landed:
    """How a flight ended: what by, when, and the last of its unknowns."""

    time: float
    ended_by: str
    y: Floats
    load: tuple[str, float]


def flown(
    cells: Cells,
    phases: Sequence[tuple[tuple[str, float], float]],
    *,
    reserve: float = -1.0,
    floor: float = -np.inf,
    limit: float = np.inf,
    longest: float = np.inf,
    begun: Floats | None = None,
    tolerance: float = 1e-9,
) -> Landed:
    """Phases one after the other and over again, until the first limit is met; a load's `(kind, value), duration`."""
    spent = float(((cells.states - reserve) * cells.capacities).min())
    y, t, number = cells.rested() if begun is None else begun, 0.0, 0

    def margins(load: tuple[str, float]) -> list[tuple[str, Callable[[float, Floats], float]]]:
        return [
            ("floor", lambda t, y: float(cells.voltages(y, load).min()) - floor),
            ("heat", lambda t, y: limit - float(cells.split(y)[2].max())),
            ("reserve", lambda t, y: spent - float(y[0])),
        ]

    while t < longest:
        load, duration = phases[number % len(phases)]
        events = margins(load)
        for name, margin in events:
            if margin(t, y) <= 0.0:
                return Landed(t, name, y, load)
        functions = []
        for _, margin in events:
            margin.terminal, margin.direction = True, -1.0  # type: ignore[attr-defined]
            functions.append(margin)
        until = min(t + duration, longest, t + 1e7)
        run = solve_ivp(
            lambda t, y, load=load: cells.rates(y, load),
            (t, until),
            y,
            method="LSODA",
            rtol=tolerance,
            atol=tolerance,
            events=functions,
            max_step=max(5.0, duration / 200) if duration < 1e5 else 20.0,
        )
        assert run.success, run.message
        y, t = run.y[:, -1], float(run.t[-1])
        for (name, _), met in zip(events, run.t_events, strict=True):
            if len(met):
                return Landed(t, name, y, load)
        number += 1
    return Landed(t, "end", y, phases[number % len(phases)][0])
