"""What is drawn over a flight: a current, a power, a load that repeats, or an earlier flight that tells the current."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import isinf
from typing import Annotated, ClassVar, Protocol

from ampstead.cell.one.flight import Phase
from ampstead.declare import Floats, Fraction, Items, OneOf, Quantity
from ampstead.errors import FieldError
from ampstead.inputs.shared import MOST_CURRENT, MOST_POWER


class Item(Protocol):
    """A nested item as a check sees it."""

    value: "LoadStep"


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadStep:
    """One step of a load that repeats."""

    current: Annotated[
        float | None, Quantity("A", "Current drawn.", at_least=0, at_most=MOST_CURRENT, example="62 A")
    ] = None
    power: Annotated[
        float | None, Quantity("W", "Constant power drawn.", at_least=0, at_most=MOST_POWER, example="240 W")
    ] = None
    duration: Annotated[
        float, Quantity("s", "How long this step lasts.", at_least="0.1 s", at_most="36000 s", example="40 s")
    ]

    RULES: ClassVar = (OneOf("current", "power", required=True, asked="What is drawn?"),)


def flight_is_whole(flight_time: float | None, charge_returned: float | None) -> Iterator[FieldError]:
    """A flight tells its current by its time and the charge put back together."""
    if flight_time is not None and charge_returned is None:
        said = 'charge_returned is missing: flight_time needs it, like "1480 mAh"'
        yield FieldError("charge_returned", "missing", said)
    if charge_returned is not None and flight_time is None:
        yield FieldError("flight_time", "missing", 'flight_time is missing: charge_returned needs it, like "6 min"')


def something_is_drawn(load: list[Item] | None) -> Iterator[FieldError]:
    """A load that draws nothing never ends."""
    if load and not any(step.value.current or step.value.power for step in load):
        yield FieldError("load", "out_of_range", "load draws nothing in any step: give a step above 0")


CYCLE = 60.0
"""s in which the shares of a flight come round. This project's own judgement."""
WHOLE = 0.01
"""By which shares may miss the whole: they were rounded."""


def shares_are_whole(currents: Floats | None, shares: Floats | None) -> Iterator[FieldError]:
    """Each current has its share of the flight, and together they are all of it."""
    if (currents is None) != (shares is None):
        missing, other, like = (
            ("shares", "currents", "0.3,0.5,0.2") if shares is None else ("currents", "shares", "8,20,42 A")
        )
        yield FieldError(missing, "missing", f'{missing} is missing: {other} needs it, like "{like}"')
    if currents is None or shares is None:
        return
    if len(currents) != len(shares):
        said = f"currents has {len(currents)} values but shares has {len(shares)}: give each current its share"
        for name in ("currents", "shares"):
            yield FieldError(name, "wrong_length", said)
    elif abs(float(shares.sum()) - 1.0) > WHOLE + 1e-9:
        said = f"shares must add up to 1 (or 100 %); they add up to {float(shares.sum()):.4g}"
        yield FieldError("shares", "out_of_range", said)
    elif not float((currents * shares).sum()) > 0:
        yield FieldError("currents", "out_of_range", "currents draws nothing in any share: give one above 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """What is drawn over a flight."""

    current: Annotated[
        float | None, Quantity("A", "Current over the flight.", above=0, at_most=MOST_CURRENT, example="14 A")
    ] = None
    power: Annotated[
        float | None,
        Quantity("W", "Constant power over the flight.", above=0, at_most=MOST_POWER, example="240 W"),
    ] = None
    load: Annotated[list[LoadStep] | None, Items("Steps of current or power, repeated until the end.")] = None
    currents: Annotated[
        Floats | None,
        Quantity(
            "A",
            "Currents by throttle, each for its share of the flight.",
            at_least=0,
            at_most=MOST_CURRENT,
            example="8,23,40 A",
        ),
    ] = None
    shares: Annotated[
        Floats | None,
        Fraction(
            "Share of the flight at each current; together all of it.", at_least=0, at_most=1, example="0.3,0.5,0.2"
        ),
    ] = None
    flight_time: Annotated[
        float | None,
        Quantity(
            "min",
            "Length of an earlier flight, where nobody knows the current.",
            above=0,
            at_most="10000 min",
            example="7.5 min",
        ),
    ] = None
    charge_returned: Annotated[
        float | None,
        Quantity("mAh", "Charge put back after that flight.", above=0, at_most="200 Ah", example="1480 mAh"),
    ] = None

    RULES: ClassVar = (
        OneOf("current", "power", "load", "currents", "flight_time", required=True, asked="What does the flight draw?"),
        OneOf("charge_returned", "current", "power", "load", "currents"),
        OneOf("shares", "current", "power", "load", "flight_time"),
    )
    CHECKS: ClassVar = (flight_is_whole, something_is_drawn, shares_are_whole)

    def current_of(self, efficiency: float) -> float | None:
        """The current told, or that of the earlier flight, A: what went back, less what did not stay, over its time."""
        if self.flight_time is not None and self.charge_returned is not None:
            return efficiency * self.charge_returned / self.flight_time
        return self.current

    def phases(self, efficiency: float) -> list[Phase]:
        """The load as a flight takes it."""
        if self.load:
            return [Phase(current=step.current, power=step.power, duration=step.duration) for step in self.load]
        if self.currents is not None and self.shares is not None:
            parts = zip(self.currents.tolist(), (self.shares / self.shares.sum()).tolist(), strict=True)
            return [Phase(current=i, duration=CYCLE * part) for i, part in parts if part > 0]
        return [Phase(current=self.current_of(efficiency), power=self.power)]

    def peukert_current(self, efficiency: float, exponent: float, voltage: float) -> float:
        """The current that stands for the load in Peukert's law, (Σ i^k·d / Σ i·d)^(1/(k − 1)); powers at `voltage`."""
        drawn = []
        for phase in self.phases(efficiency):
            i = phase.power / voltage if phase.power else phase.current or 0.0
            drawn.append((i, 1.0 if isinf(phase.duration) else phase.duration))
        most = max(i for i, _ in drawn)
        if exponent <= 1.0 or most == 0.0:
            return most
        charge = sum(i / most * d for i, d in drawn)
        return float(most * (sum((i / most) ** exponent * d for i, d in drawn) / charge) ** (1.0 / (exponent - 1.0)))
