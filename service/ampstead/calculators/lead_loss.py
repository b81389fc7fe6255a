"""What a lead costs.

Over 300 lines: the reading of gauges stands here too.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Annotated

import numpy as np

from ampstead.cell.wiring.leads import (
    SOLD_AREAS,
    SOLD_GAUGES,
    THICKEST,
    THINNEST,
    gauge_area,
    lead_heating_rate,
    lead_resistance,
    thinnest,
)
from ampstead.declare import Band, Caution, Floats, Fraction, Quantity, Text
from ampstead.errors import FieldError, clipped
from ampstead.inputs.shared import MOST_CURRENT
from ampstead.judging.cautions import Table
from ampstead.judging.cautions import caution as shared
from ampstead.judging.doubts import edges, error
from ampstead.sketch import Bars, Limit
from ampstead.units import DIMENSIONS, Unreadable, quantity
from ampstead.words import amperes, degrees, metres, millivolts, number, percent, sentences, volts, watts

ASKED = "What do these leads lose?"
WHEN = ("at the bench", 60)
MAIN = ("drop", "loss_power")
SOURCES = (
    "Copper: 1/58 ohm mm²/m at 20 degrees (IEC 60028), 0.00393 per kelvin; gauges by ASTM B258; compared with "
    "published wire tables, the limits of IEC 60228 and the worked drops of FAA AC 43.13-1B",
    "Heating without any cooling: density 8.96 g/cm³ and 385 J/kgK of copper",
    "A drop of 3 percent, and a conductor at 50 degrees: common practice, no published source",
    "The warning above 10 watts a metre: this project's own judgement. No verdict on ampacity: published tables are "
    "for long wires in hot bundles, and none fits short leads in moving air",
)
EXAMPLES = (
    {"gauge": "16 AWG", "length": "0.35 m", "current": "14 A", "voltage": "11.1 V"},
    {"gauge": "12 AWG", "length": "0.6 m", "current": "10 A", "voltage": "12.5 V", "conductor_temperature": "33 °C"},
)

HARDLY = 0.01  # W, or W/m: less heat is not worth a figure in a sentence.
HOT = 10.0  # W/m of lead, both conductors; this project's own judgement.
FIERCE = 10.0
"""K/s: from here insulation is spoilt in seconds, before anybody reacts. This project's own judgement."""
# Of the resistance of real wire over that of solid copper of the nominal size. Gauges: the tin-plated limits of FAA
# AC 43.13-1B table 11-9, 20 to 12 AWG; mm²: from the nominal area to the plain class 5 limits of IEC 60228 table 3.
NEIGHBOURS = 6
LEAST_AREA, MOST_AREA = 1e-9, 1e-3  # m²
AUGHTS = {f"{n}/0": 1 - n for n in range(1, 5)} | {"0" * n: 1 - n for n in range(1, 5)}
SLACK = 1e-9

_AREA = replace(DIMENSIONS["mm²"], example="2.5 mm²")
_GAUGE = re.compile(r"(?:AWG\s*([0-9/]+)|#?\s*([0-9/]+)\s*AWG)", re.IGNORECASE)
_CURE = 'write "14 AWG" or "2.5 mm²"'


@dataclass(frozen=True, slots=True)
class Wire:
    """One conductor: its American gauge where it was told so, and its area in m²."""

    gauge: int | None
    area: float

    @property
    def name(self) -> str:
        """As it is written: ``14 AWG``, ``2.5 mm²``."""
        return f"{number(self.area * 1e6)} mm²" if self.gauge is None else gauge_name(self.gauge)

    @property
    def spoken(self) -> str:
        """As it is said: ``14 gauge``, ``2 aught gauge``, ``2.5 square millimetre``."""
        if self.gauge is None:
            return f"{number(self.area * 1e6)} square millimetre"
        return f"{self.gauge} gauge" if self.gauge > 0 else f"{1 - self.gauge} aught gauge"


def gauge_name(gauge: int) -> str:
    """A gauge as it is written: ``14 AWG``, ``2/0 AWG``."""
    return f"{gauge} AWG" if gauge > 0 else f"{1 - gauge}/0 AWG"


@lru_cache(maxsize=1024)
def wire(gauge: str) -> Wire:
    """The wire that a text like ``14 AWG``, ``4/0 AWG`` or ``2.5 mm²`` names.

    Raises
    ------
    Unreadable
        With the cure.
    """
    text = gauge.strip()
    named = _GAUGE.fullmatch(text)
    if named:
        figure = named[1] or named[2]
        size = AUGHTS.get(figure, int(figure) if re.fullmatch(r"[1-9][0-9]?", figure) else None)
        if size is None or size > THINNEST:
            known = f"{gauge_name(THICKEST)} to {gauge_name(THINNEST)}"
            raise Unreadable("out_of_range", f'must be a whole gauge from {known}; "{clipped(text)}" was read')
        return Wire(size, float(gauge_area(size)))
    if "awg" in text.lower():
        raise Unreadable("not_a_number", f'is not a gauge as "{clipped(text)}": {_CURE}')
    try:
        area = quantity(text, _AREA)
    except Unreadable as fault:
        bare = fault.code == "unit_missing"
        said = f"needs a unit: {_CURE}" if bare else f'{fault.message}; a gauge is written like "14 AWG"'
        raise Unreadable(fault.code, said) from None
    if not LEAST_AREA * (1 - SLACK) <= area <= MOST_AREA * (1 + SLACK):
        raise Unreadable("out_of_range", f"must be from 0.001 mm² to 1000 mm²; {area * 1e6:.6g} mm² was read")
    return Wire(None, area)


def gauge_is_readable(gauge: str) -> Iterator[FieldError]:
    """A gauge is a number with AWG, or an area."""
    try:
        wire(gauge)
    except Unreadable as fault:
        yield FieldError("gauge", fault.code, f"gauge {fault.message}")


CHECKS = (gauge_is_readable,)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadLoss:
    resistance: Annotated[float, Quantity("mΩ", "Resistance of the lead, both conductors together.", spoken="up")]
    drop: Annotated[float, Quantity("V", "Voltage lost in the lead.", spoken="up")]
    drop_fraction: Annotated[
        float | None, Fraction("That part of the voltage; none without the voltage.", spoken="up")
    ] = None
    loss_power: Annotated[float, Quantity("W", "Power that the lead turns into heat.", spoken="up")]
    loss_per_metre: Annotated[float, Quantity("W/m", "That per metre of lead, both conductors together.", spoken="up")]
    heating_rate: Annotated[float, Quantity("K/s", "How fast the copper warms while no heat leaves it.", spoken="up")]
    gauge_for_drop: Annotated[
        str | None,
        Text(
            "Thinnest size sold that keeps the drop limit and stays under 10 W/m, in the kind of size asked; none "
            "without the voltage, or if none does."
        ),
    ] = None


def lead_loss(
    *,
    gauge: Annotated[
        str,
        Text(
            'Size of each conductor: a gauge like "16 AWG", or an area like "2.5 mm²".', example="16 AWG", measured=True
        ),
    ],
    length: Annotated[
        float,
        Quantity("m", "Length of the lead one way; both conductors count.", above=0, at_most="1 km", example="0.35 m"),
    ],
    current: Annotated[float, Quantity("A", "Current in the lead.", above=0, at_most=MOST_CURRENT, example="14 A")],
    voltage: Annotated[
        float | None,
        Quantity("V", "Voltage where the lead begins.", above=0, at_most="1 kV", example="11.1 V"),
    ] = None,
    conductor_temperature: Annotated[
        float, Quantity("°C", "Temperature of the copper.", at_least="-40 °C", at_most="200 °C", example="50 °C")
    ] = 323.15,
    drop_limit: Annotated[
        float, Fraction("Part of the voltage that the lead may cost.", above=0, below=1, example=0.03)
    ] = 0.03,
) -> LeadLoss:
    """What a lead costs in voltage, power and heat.

    Two copper conductors of an area A, each of the length l, at a temperature T:

        R       = rho(T) * 2 * l / A,  rho(T) = (1/58 ohm mm²/m) * (1 + 0.00393 * (T - 20 °C))    (1)
        drop    = I * R                                                                           (2)
        loss    = I**2 * R                                                                        (3)
        dT/dt   = rho(T) * (I / A)**2 / (density * specific heat), no heat leaving                (4)

    An American gauge n has the diameter 0.127 mm * 92**((36 - n) / 39), as solid wire (ASTM B258); stranded and
    tinned wire of the same name has a little more resistance, see accuracy. Connectors are not counted. The drop
    alone makes no lead safe: a short one may lose little and still get hot, so that the size advised keeps heat per
    metre as well, and both stand beside it. No ampacity is given: no published figure fits short leads.
    """
    told = wire(gauge)
    area = told.area
    R = lead_resistance(area, length, conductor_temperature)  # Eq. (1)
    drop = current * R  # Eq. (2)
    thin = None if voltage is None else advised(told, current, length, conductor_temperature, drop_limit * voltage)
    return LeadLoss(
        resistance=R,
        drop=drop,
        drop_fraction=None if voltage is None else drop / voltage,
        loss_power=current * drop,  # Eq. (3)
        loss_per_metre=current * drop / length,
        heating_rate=lead_heating_rate(area, current, conductor_temperature),  # Eq. (4)
        gauge_for_drop=None if thin is None else thin.name,
    )


def advised(told: Wire, current: float, length: float, temperature: float, drop: float) -> Wire | None:
    """The thinnest wire sold that keeps drop and heat: a gauge where one was asked, otherwise an area."""
    if told.gauge is None:
        place = thinnest(SOLD_AREAS, current, length, temperature, drop, HOT)
        return None if place is None else Wire(None, SOLD_AREAS[place])
    areas = gauge_area(SOLD_GAUGES).tolist()
    place = thinnest(areas, current, length, temperature, drop, HOT)
    return None if place is None else Wire(SOLD_GAUGES[place], float(areas[place]))


def sentence(
    answer: LeadLoss,
    *,
    gauge: str,
    length: float,
    current: float,
    voltage: float | None,
    conductor_temperature: float,
    drop_limit: float,
) -> str:
    """The answer as spoken. A size that keeps drop and heat is named only where the one asked for does not."""
    lost = volts(answer.drop, "up") if answer.drop >= 1 else millivolts(answer.drop, "up")
    part = "" if answer.drop_fraction is None else f", {percent(answer.drop_fraction, 'up')} of the voltage,"
    heat = f"{watts(answer.loss_power, 'up')} into heat, {watts(answer.loss_per_metre, 'up')} a metre,"
    if max(answer.loss_power, answer.loss_per_metre) < HARDLY:
        heat = "next to nothing into heat,"
    start = (
        f"At {amperes(current)} this {wire(gauge).spoken} lead of {metres(length)} loses {lost}{part} "
        f"and turns {heat} both conductors counted and taken at {degrees(conductor_temperature)}."
    )
    hot = answer.loss_per_metre > HOT * (1 + SLACK)
    deep = answer.drop_fraction is not None and answer.drop_fraction > drop_limit * (1 + SLACK)
    if voltage is None or not (hot or deep):
        return sentences(start, "It gets hot." if hot else "")
    if answer.drop_fraction is not None and answer.drop_fraction >= 1:
        start = (
            f"Through this lead {amperes(current)} cannot flow: it would lose more than the {volts(voltage)} there are."
        )
    aim = " and ".join([f"within {percent(drop_limit)}"] * deep + ["cool"] * hot)
    if answer.gauge_for_drop is None:
        cure = "draw less" if hot and not deep else "shorten it or draw less"
        return sentences(start, f"No usual wire keeps it {aim}: {cure}.")
    return sentences(start, f"To keep it {aim} take {wire(answer.gauge_for_drop).spoken} wire or thicker.")


OWN_CAUTIONS: Table = {
    # This project's own judgement: no published figure fits short leads.
    # This project's own judgement.
    "lead-fierce": (
        "danger",
        "This lead warms by {rate} degrees a second: its insulation melts or burns before you can react. Do not draw "
        "this through it, not for a moment: take thicker wire.",
    ),
    "lead-hot": (
        "warning",
        "This lead warms by {rate} degrees a second until air carries the heat away: take thicker wire{burst}.",
    ),
    "lead-drop": ("warning", "The drop is over the limit of {limit}: take thicker wire or shorten the lead."),
    "lead-impossible": (
        "danger",
        "The lead would lose more than the whole voltage: this current cannot flow through it.",
    ),
    "no-ampacity": (
        "note",
        "No verdict on what this wire may carry: published tables are for long wires in hot bundles. Feel the lead and "
        "its connectors after use, and follow the local rules for wiring.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"no-ampacity"})


def cautions(answer: LeadLoss, *, drop_limit: float) -> Iterator[Caution]:
    """What to heed: heat first, since a small drop makes no lead safe."""
    if answer.drop_fraction is not None and answer.drop_fraction >= 1:
        yield caution("lead-impossible")
    if answer.loss_per_metre > HOT * (1 + SLACK):
        heating, fierce = number(answer.heating_rate, 2), answer.heating_rate >= FIERCE * (1 - SLACK)
        if fierce:
            yield caution("lead-fierce", rate=heating)
        never = fierce or (answer.drop_fraction is not None and answer.drop_fraction >= 1)
        yield caution("lead-hot", rate=heating, burst="" if never else ", or draw this in short bursts only")
    if answer.drop_fraction is not None and answer.drop_fraction > drop_limit * (1 + SLACK):
        yield caution("lead-drop", limit=percent(drop_limit))
    yield caution("no-ampacity")


def accuracy(answer: LeadLoss, *, gauge: str, conductor_temperature: float, given: frozenset[str]) -> Iterator[Band]:
    """How far real wire is off its name, and off a warmth that nobody told."""
    by_gauge = wire(gauge).gauge is not None
    low, high = error("gauge" if by_gauge else "cross-section")
    cold, hot = edges("conductor_temperature", conductor_temperature, given)
    if hot > cold:
        used = lead_resistance(1.0, 1.0, conductor_temperature)
        low *= lead_resistance(1.0, 1.0, cold) / used
        high *= lead_resistance(1.0, 1.0, hot) / used
    basis = _basis(by_gauge, *((cold, hot) if hot > cold else ()))
    for name in ("resistance", "drop", "drop_fraction", "loss_power", "loss_per_metre"):
        value = getattr(answer, name)
        if value is not None:
            yield Band(name, low * value, high * value, basis)


@lru_cache(maxsize=64)
def _basis(by_gauge: bool, *edges: float) -> str:
    """Why real wire may be off; `edges` are the temperatures between which it may be where nobody told."""
    said = (
        "stranded and tinned wire of one gauge differs from solid copper (FAA AC 43.13-1B table 11-9)"
        if by_gauge
        else "IEC 60228 lets flexible wire have up to 16 percent more resistance than its area says"
    )
    return f"{said}, and copper may be at {' to '.join(map(degrees, edges))} where nobody told" if edges else said


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeTable:
    gauge: Annotated[tuple[str, ...], Text("Size of each conductor, thick to thin.")]
    area: Annotated[Floats, Quantity("mm²", "Its cross-section.")]
    resistance: Annotated[Floats, Quantity("mΩ", "Resistance of the lead.")]
    drop: Annotated[Floats, Quantity("V", "Voltage lost in it.")]
    loss_per_metre: Annotated[Floats, Quantity("W/m", "Heat per metre of lead.")]
    heating_rate: Annotated[Floats, Quantity("K/s", "How fast it warms while no heat leaves it.")]


def curve(answer: LeadLoss, *, gauge: str, length: float, current: float, conductor_temperature: float) -> GaugeTable:
    """The wire asked for among those sold around it, thick to thin."""
    told = wire(gauge)
    if told.gauge is None:
        nearest = int(np.argmin(np.abs(np.log(np.array(SOLD_AREAS) / told.area))))
        near = SOLD_AREAS[max(nearest - NEIGHBOURS // 2, 0) : nearest + NEIGHBOURS // 2 + 1]
        others = [Wire(None, size) for size in near if abs(size / told.area - 1) > SLACK]
    else:
        around = range(max(told.gauge - NEIGHBOURS, THICKEST), min(told.gauge + NEIGHBOURS, THINNEST) + 1)
        others = [Wire(n, float(gauge_area(n))) for n in around if n in SOLD_GAUGES and n != told.gauge]
    wires = sorted([*others, told], key=lambda entry: -entry.area)
    areas = np.array([entry.area for entry in wires])
    resistances = lead_resistance(areas, length, conductor_temperature)
    return GaugeTable(
        gauge=tuple(entry.name for entry in wires),
        area=areas,
        resistance=resistances,
        drop=current * resistances,
        loss_per_metre=current**2 * resistances / length,
        heating_rate=lead_heating_rate(areas, current, conductor_temperature),
    )


def picture(
    answer: LeadLoss,
    *,
    gauge: str,
    length: float,
    current: float,
    voltage: float | None,
    conductor_temperature: float,
    drop_limit: float,
) -> Bars:
    """What the gauges around would lose, heat in words; marked are the drop limit and where a lead gets hot."""
    table = curve(answer, gauge=gauge, length=length, current=current, conductor_temperature=conductor_temperature)
    asked = wire(gauge).name
    near = voltage is not None and drop_limit * voltage <= 2 * np.max(table.drop)
    limits = [Limit(drop_limit * voltage, f"limit {number(drop_limit * voltage)} V")] if voltage and near else []
    hot = HOT * length / current  # V, at which a metre gives off HOT
    if hot <= 2 * np.max(table.drop):
        limits.append(Limit(hot, f"hot: {number(HOT)} W/m"))
    return Bars(
        title=f"What {number(current)} A lose in {number(length)} m of lead",
        label="gauge",
        columns=("drop",),
        words=tuple(
            f"{number(drop, 2)} V, {number(heat, 2)} W/m{' (asked)' if name == asked else ''}"
            for name, drop, heat in zip(table.gauge, table.drop, table.loss_per_metre, strict=True)
        ),
        limits=tuple(limits),
    )
