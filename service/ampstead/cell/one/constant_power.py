"""A pack under a load of constant power, integrated over the charge drawn.

Current out of the pack is positive. With E = ΣU_j(q) − ΣR1_j·w, R = ΣR0_j + R_lead, and the load P behind
the lead,

    i = 2P/(E + sqrt(E² − 4·R·P))        (1)
    dt/dq = 1/i,  dw/dq = (1 − w/i)/τ    (2)

(1) is the upper, stable solution of P = i·(E − R·i); there is none if P > E²/(4·R).

The charge q is the independent variable because the knots of the curves are known in q. Stepped by Radau
IIA of order 5 with Hairer's error estimate [1], since (2) is stiff where a run is long beside τ.

[1] Hairer, Wanner, Solving Ordinary Differential Equations II, 2nd ed., Springer 1996, section IV.8.
**Published**.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

from .series import Track

_S6 = sqrt(6.0)
RADAU_NODES = ((4.0 - _S6) / 10.0, (4.0 + _S6) / 10.0, 1.0)
RADAU = (
    ((88.0 - 7.0 * _S6) / 360.0, (296.0 - 169.0 * _S6) / 1800.0, (-2.0 + 3.0 * _S6) / 225.0),
    ((296.0 + 169.0 * _S6) / 1800.0, (88.0 + 7.0 * _S6) / 360.0, (-2.0 - 3.0 * _S6) / 225.0),
    ((16.0 - _S6) / 36.0, (16.0 + _S6) / 36.0, 1.0 / 9.0),
)
RADAU_ERROR = ((-13.0 - 7.0 * _S6) / 3.0, (-13.0 + 7.0 * _S6) / 3.0, -1.0 / 3.0)
RADAU_RATE = 3.6378342527444957  # the real eigenvalue of A⁻¹
# Cayley-Hamilton: (1 − z·A)⁻¹ = (1 + z·(A − 3/5) + z²·(A² − 3/5·A + 3/20))/(1 − 3/5·z + 3/20·z² − z³/60).
RADAU_ONCE = tuple(tuple(RADAU[k][j] - (0.6 if k == j else 0.0) for j in range(3)) for k in range(3))
RADAU_TWICE = tuple(
    tuple(
        sum(RADAU[k][n] * RADAU[n][j] for n in range(3)) - 0.6 * RADAU[k][j] + (0.15 if k == j else 0.0)
        for j in range(3)
    )
    for k in range(3)
)

TOLERANCE = 1e-6  # of the current, in the third-order estimate; the step itself is of fifth order
SETTLED = 1e-10
ITERATIONS = 8
LEAST_STEP = 1e-9
ROUNDING = 1e-15


class Impossible(ArithmeticError):
    """The pack cannot give this power any more."""


def upper_current(E: float, R: float, P: float) -> float:
    """Eq. (1), which holds at R = 0 too and loses no digits at small R; `Impossible` where no source gives as much."""
    square = E * E - 4.0 * R * P
    if E <= 0.0 or square < 0.0:
        raise Impossible
    return 2.0 * P / (E + sqrt(square))


@dataclass(frozen=True, slots=True)
class State:
    """Time, charge drawn, w (`series`, Eq. 2), current, and ∫ i² dt."""

    time: float
    charge: float
    slow: float
    current: float
    squares: float


class ConstantPower:
    """A run at power P > 0. Give `advance` the states one after the other."""

    __slots__ = ("at", "end", "origin", "power", "resistance", "slow_resistance", "step", "tau", "tolerance", "tracks")

    def __init__(
        self,
        tracks: Sequence[Track],
        tau: float,
        power: float,
        lead_resistance: float,
        tolerance: float = TOLERANCE,
    ) -> None:
        self.tolerance = tolerance
        self.tracks, self.tau, self.power = tracks, tau, power
        self.resistance = sum(track.count * track.ohmic for track in tracks) + lead_resistance
        self.slow_resistance = sum(track.count * track.polarisation for track in tracks)
        self.end = min(track.end for track in tracks)
        """The charge at which the first cell is empty."""
        self.at = [0] * len(tracks)
        self.origin: tuple[State, float, float]
        self.step: float

    def current(self, E: float) -> float:
        """Eq. (1): what flows from the voltage E behind all resistance."""
        return upper_current(E, self.resistance, self.power)

    def start(self, time: float = 0.0, charge: float = 0.0, slow: float = 0.0) -> State:
        """The first state: from rest, or where another load left the pack."""
        self.at = [track.segment(charge) for track in self.tracks]
        E = sum(track.count * track.voltage(charge) for track in self.tracks) - self.slow_resistance * slow
        i = self.current(E)
        self.step = 0.5 * self.tau * i
        return State(time, charge, slow, i, 0.0)

    def voltages(self, state: State) -> list[float]:
        """Terminal voltage of each kind of cell."""
        return [
            track.voltage(state.charge) - track.ohmic * state.current - track.polarisation * state.slow
            for track in self.tracks
        ]

    def advance(self, state: State, until: float = inf) -> State:
        """The state after one more step: at most to the next knot, and not past the time `until`.

        Where w starts above the current, that falls at first, and the step may end later than `until`.
        """
        q, i = state.charge, state.current
        E, slope, knot = 0.0, 0.0, inf
        for index, track in enumerate(self.tracks):
            k = self.at[index]
            while k + 1 < len(track.charges) and q >= track.charges[k + 1] * (1.0 - ROUNDING):
                k += 1
            self.at[index] = k
            E += track.count * (track.voltages[k] + track.slopes[k] * (q - track.charges[k]))
            slope += track.count * track.slopes[k]
            if k + 1 < len(track.charges):
                knot = min(knot, track.charges[k + 1])
        # From rest the current only rises, so this much charge takes no longer than the time that is left.
        room = min(knot - q, (until - state.time) * i)
        h = min(self.step, room)
        least = LEAST_STEP * self.tau * i
        self.origin = (state, E, slope)
        while True:
            try:
                after, error = self._radau(h)
                factor = 0.9 * (self.tolerance * after.current / max(error, 1e-30)) ** 0.25
                if factor >= 0.9:
                    break
            except Impossible:
                factor = 0.0
            if h <= least:
                raise Impossible
            h *= max(factor, 0.3)
        wider = h * min(factor, 5.0)
        self.step = max(self.step, wider) if h == room else wider
        if after.charge >= knot * (1.0 - ROUNDING):
            return State(after.time, knot, after.slow, after.current, after.squares)
        return after

    def part(self, h: float) -> State:
        """The state `h` more charge after the start of the last step, within it."""
        return self._radau(h)[0]

    def within(self, origin: tuple[State, float, float], h: float) -> State:
        """The state `h` more charge after the start of a step that was taken before, told by what `origin` was."""
        self.origin = origin
        return self._radau(h)[0]

    def _radau(self, h: float) -> tuple[State, float]:
        """One step of Eq. (2) from `origin`, and the estimate of its error in w."""
        state, E, slope = self.origin
        tau, slow, w, i = self.tau, self.slow_resistance, state.slow, state.current
        emf = [E + slope * c * h - slow * w for c in RADAU_NODES]
        u = E - slow * w - 2.0 * self.resistance * i  # the root in Eq. (1)
        J = (slow * w / u - 1.0) / (tau * i) if u > 1e-9 * E else -1.0 / (tau * i)
        z = h * J
        inverse = 1.0 / (1.0 + z * (-0.6 + z * (0.15 - z / 60.0)))
        stage, values, change = [0.0, 0.0, 0.0], [i, i, i], inf
        for _ in range(ITERATIONS):
            values = [self.current(emf[j] - slow * stage[j]) for j in range(3)]
            f = [h * (1.0 - (w + stage[j]) / values[j]) / tau for j in range(3)]
            r = [_dot(RADAU[j], f) - stage[j] for j in range(3)]
            correction = [
                inverse * (r[j] + z * (_dot(RADAU_ONCE[j], r) + z * _dot(RADAU_TWICE[j], r))) for j in range(3)
            ]
            stage = [stage[j] + correction[j] for j in range(3)]
            last, change = change, max(map(abs, correction))
            if change <= SETTLED * i:
                break
            if change > last:
                raise Impossible
        else:
            raise Impossible
        error = abs((h * (1.0 - w / i) / tau + _dot(RADAU_ERROR, stage)) / (RADAU_RATE - z))
        time = state.time + h * _dot(RADAU[2], [1.0 / value for value in values])
        squares = state.squares + h * _dot(RADAU[2], values)
        w += stage[2]
        return State(time, state.charge + h, w, self.current(emf[2] - slow * stage[2]), squares), error


def _dot(row: Sequence[float], column: Sequence[float]) -> float:
    return row[0] * column[0] + row[1] * column[1] + row[2] * column[2]
