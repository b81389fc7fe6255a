"""Several loads of constant power on one source, and how much more of them it could carry.

    V = V0 − Rs·Σi_k,   i_k = (V − sqrt(V² − 4·R_k·P_k))/(2·R_k)    (1)

V is the voltage of the bus behind the source's resistance Rs, R_k the lead of load k; each i_k the upper
solution of P_k = i_k·(V − R_k·i_k). The difference of the two sides of (1) is concave in V, so that the
largest root is the stable one, Newton's steps from V0 down to it never pass it, and none is left where a
source cannot carry the loads.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

from ..roots import root

_GOLDEN = (sqrt(5.0) - 1.0) / 2.0


@dataclass(frozen=True, slots=True)
class Bus:
    """Voltage of the bus (V), current of each load (A), and voltage each load sees behind its lead (V)."""

    voltage: float
    currents: tuple[float, ...]
    load_voltages: tuple[float, ...]


def _current(V: float, R: float, P: float) -> float:
    return 2.0 * P / (V + sqrt(max(0.0, V * V - 4.0 * R * P)))


def bus(
    source_voltage: float,
    source_resistance: float,
    powers: Sequence[float],
    lead_resistances: Sequence[float],
) -> Bus | None:
    """The bus under all its loads, on the upper branch; None where the source cannot carry them."""
    loads = list(zip(lead_resistances, powers, strict=True))
    V, least = source_voltage, max((2.0 * sqrt(R * P) for R, P in loads), default=0.0)
    for _ in range(200):
        if least > V or V <= 0.0:
            return None
        missing, steepness = V - source_voltage, 1.0
        for R, P in loads:
            i = _current(V, R, P)
            missing += source_resistance * i
            if source_resistance and i:
                spread = sqrt(max(0.0, V * V - 4.0 * R * P))
                steepness -= source_resistance * i / spread if spread else inf
        if missing <= 4e-16 * source_voltage:
            break
        if steepness <= 0.0:
            return None
        step = missing / steepness
        V -= step
        if step <= 1e-15 * V:
            break
    currents = tuple(_current(V, R, P) for R, P in loads)
    return Bus(V, currents, tuple(V - R * i for (R, _), i in zip(loads, currents, strict=True)))


def largest_load_factor(
    source_voltage: float,
    source_resistance: float,
    powers: Sequence[float],
    lead_resistances: Sequence[float],
) -> float:
    """The largest common multiple of the loads that the source can carry; infinite where nothing limits it.

    At one bus voltage, the largest multiple is a root of Eq. (1) or the most that a lead passes,
    V²/(4·R_k·P_k). The multiples reached or passed belong to an interval of V, since (1) is concave: the
    multiple has a single peak in V, found by golden section. One load: V0²/(4·(Rs + R)·P).
    """
    loads = [(R, P) for R, P in zip(lead_resistances, powers, strict=True) if P > 0.0]

    def by_leads(V: float) -> float:
        return min((V * V / (4.0 * R * P) for R, P in loads if R > 0.0), default=inf)

    if not loads or source_resistance == 0.0:
        return by_leads(source_voltage) if loads else inf

    def factor(V: float) -> float:
        def over(k: float) -> float:
            return source_resistance * sum(_current(V, R, k * P) for R, P in loads) - (source_voltage - V)

        # No load draws less than P/V, so the multiple that fills the drop is at most this.
        most = (source_voltage - V) * V / (source_resistance * sum(P for _, P in loads))
        most = min(most, by_leads(V))
        return most if over(most) <= 0.0 else root(over, 0.0, most)

    low, high = 0.0, source_voltage
    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_left, at_right = factor(left), factor(right)
    best = max(at_left, at_right)
    while high - low > 1e-13 * source_voltage:
        if at_left < at_right:
            low, left, at_left = left, right, at_right
            right = low + _GOLDEN * (high - low)
            at_right = factor(right)
        else:
            high, right, at_right = right, left, at_left
            left = high - _GOLDEN * (high - low)
            at_left = factor(left)
        best = max(best, at_left, at_right)
    return best
