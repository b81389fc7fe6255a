"""Set the timer from the last flight.

Over 300 lines, since a calculator is one file, with its cautions, its curve and its picture.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES, Chemistry, cell_mass
from ampstead.cell.kinds.resistance import (
    ACTIVATION,
    POLARISATION_RATIO,
    TIME_CONSTANT,
    temperature_ratio,
)
from ampstead.cell.one.flight import Phase, Warming, flight
from ampstead.cell.one.reserve import stranded_charge
from ampstead.cell.one.series import SeriesPack
from ampstead.cell.sizing import current_rate
from ampstead.declare import Band, Caution, Fraction, Quantity, Rate, derived
from ampstead.errors import FieldError
from ampstead.inputs.pack import ROOM, ChemistryInput, ChemistryName
from ampstead.judging.bands import band_over
from ampstead.judging.cautions import Table, worn_cautions
from ampstead.judging.cautions import caution as shared
from ampstead.judging.doubts import edges, error
from ampstead.judging.flying import cold_cautions, cold_words, hot_cautions, too_cold_to_fly
from ampstead.words import amperes, degrees, percent, quarter_minutes, rate, sentences

ASKED = "What do I set the timer to?"
WHEN = ("before the next outing", 10)
MAIN = ("timer", "average_current")
SOURCES = (
    "Mean current is charge over time; a timer is the charge that may be used over that current (ampere-hour ratings "
    "as in Lessons in Electric Circuits vol. I, batteries)",
    "A reserve of 20 percent: common practice, no published source",
    "What the cold takes: this project's own judgement, from resistance by 20 kJ/mol (general lithium-ion, tables "
    "shipped by simses 1.3, BSD-3), a cautious resistance by chemistry, and the open-circuit curves",
    "How far another flight and a charger's count may differ: this project's own judgement",
)
EXAMPLES = (
    {"flight_time": "7.5 min", "charge_returned": "1480 mAh", "capacity": "2250 mAh"},
    {
        "flight_time": "320 s",
        "charge_returned": "2390 mAh",
        "capacity": "3700 mAh",
        "next_temperature": "13 °C",
        "capacity_left": 0.9,
    },
)

MOST_FLIGHTS = 3.0  # Times the last flight: less than that was returned to tell more. This project's own judgement.
SHORTEST = 15.0  # s: a timer below the quarter of a minute is none. This project's own judgement.
HARDEST = 100.0  # C: no pack is flown so; charge or time was read wrong. This project's own judgement.
USUAL_RESERVE = 0.2
TAKE_OFF = 0.2  # V above the floor, that a cell keeps in the first sag after take-off; this project's own judgement.
NOTABLE, ALL = 0.01, 0.95  # Of the charge; this project's own judgement.
SLACK = 1e-9


def same_as_last(capacity: float) -> float:
    """The next pack as large as the last."""
    return capacity


def cold_is_known(chemistry: ChemistryName, next_temperature: float | None) -> Iterator[FieldError]:
    """What the cold takes follows from the open-circuit curve."""
    if next_temperature is not None and CHEMISTRIES[chemistry].curve is None:
        words = CHEMISTRIES[chemistry].words
        said = f"next_temperature is not supported for {words} packs: no open-circuit curve is published for them"
        yield FieldError("next_temperature", "unsupported", said)


CHECKS = (cold_is_known,)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightTimer:
    timer: Annotated[
        float,
        Quantity(
            "min",
            "What to set the timer to: then the reserve of the next pack is left; at most three times the last flight.",
            spoken="down",
        ),
    ]
    average_current: Annotated[float, Quantity("A", "Mean current of the last flight.", spoken="up")]
    average_rate: Annotated[float, Rate("That current in multiples of the last pack's capacity per hour.", spoken="up")]
    _used: float
    _left: float


def flight_timer(
    *,
    flight_time: Annotated[
        float, Quantity("min", "Length of the last flight.", above=0, at_most="10000 min", example="7.5 min")
    ],
    charge_returned: Annotated[
        float,
        Quantity("mAh", "Charge put back after that flight.", above=0, at_most="200 Ah", example="1480 mAh"),
    ],
    capacity: Annotated[
        float,
        Quantity("mAh", "Capacity on its label.", at_least="10 mAh", at_most="200 Ah", example="2250 mAh"),
    ],
    chemistry: ChemistryInput = "lipo",
    reserve: Annotated[float, Fraction("Part of the capacity to keep.", at_least=0, at_most=0.99, example=0.2)] = 0.2,
    next_capacity: Annotated[
        float,
        Quantity("mAh", "Capacity of the next pack.", at_least="10 mAh", at_most="200 Ah", example="3700 mAh"),
    ] = derived(same_as_last, "as the last one"),
    next_temperature: Annotated[
        float | None,
        Quantity(
            "°C",
            "Temperature of the next pack at take-off, where it is colder than in the last flight, taken at 25 °C.",
            at_least="-20 °C",
            at_most="70 °C",
            example="13 °C",
        ),
    ] = None,
    capacity_left: Annotated[
        float, Fraction("Part of its label that the next pack still holds.", above=0, at_most=1, example=0.9)
    ] = 1.0,
) -> FlightTimer:
    """The timer for the next flight, from the time and the charge of the last one.

    The last flight tells the current, and the next pack what may be used of it, both flown from full and the last
    charged to full after it:

        I     = efficiency * charge_returned / flight_time                             (1)
        Q     = next_capacity * capacity_left                                          (2)
        timer = (1 - reserve) * left * Q / I, at most 3 * flight_time                  (3)

    with an efficiency of 1 for lithium and 0.85 for lead-acid. A colder pack has more resistance, and its cells meet
    their floor under load with more charge stranded below:

        left  = (1 - z(floor + I * R(T))) / (1 - z(floor + I * R(25 °C))), at most 1   (4)

    with z the state of charge at an open-circuit voltage, and R = R0 + R1 the chemistry's cautious resistance over Q,
    but no more than the last flight proves: its last cell met no floor. T lies half-way from take-off to where such a
    flight in still air would have warmed the cells, since moving air takes part of it; warmth beyond 25 °C is credited
    nothing. Where the first sag of the cold pack comes within 0.2 V of the floor, the timer falls in proportion, to
    nothing at the floor. Lead-acid also has less to give in the cold. All this is the project's own judgement.
    """
    used = CHEMISTRIES[chemistry].charge_efficiency * charge_returned
    I = used / flight_time  # Eq. (1)
    Q = next_capacity * capacity_left  # Eq. (2)
    left = left_by_cold(chemistry, I, used, capacity, Q, next_temperature)
    return FlightTimer(
        timer=min((1 - reserve) * left * Q / I, MOST_FLIGHTS * flight_time),  # Eq. (3)
        average_current=I,
        average_rate=current_rate(I, capacity),
        _used=used,
        _left=left,
    )


def left_by_cold(
    chemistry: ChemistryName,
    current: float,
    used: float,
    capacity: float,
    charge: float,
    temperature: float | None,
    activation: float = ACTIVATION,
    resistance_charge: float | None = None,
) -> float:
    """The part of the usable charge that the cold leaves; 1 from 25 °C up, or where no temperature is told.

    The last flight, which drew ``used`` of ``capacity``, bounds the resistance; ``charge`` is the next pack's.
    """
    kind = CHEMISTRIES[chemistry]
    if temperature is None or temperature >= ROOM or kind.curve is None:
        return 1.0
    landed = float(kind.curve.voltage(1 - used / capacity))
    proven = max(0.0, landed - kind.floor) * capacity / current
    whole = (1 + POLARISATION_RATIO) * (kind.resistance_charge if resistance_charge is None else resistance_charge)
    resistance = min(whole, proven) / charge
    warm = current * resistance
    usable = 1 - stranded_charge(kind.curve, kind.floor, warm)
    if warm <= 0:
        return kind.left_in_cold(temperature)
    if usable <= 0:
        return 0.0  # what it cannot carry in warmth it carries no better in the cold
    reached = min(ROOM, flown_temperature(kind, current, charge, resistance, temperature, activation))
    cold = warm * float(temperature_ratio(reached, ROOM, activation))
    part = (1 - stranded_charge(kind.curve, kind.floor, cold)) / usable  # Eq. (4)
    first = warm / (1 + POLARISATION_RATIO) * float(temperature_ratio(temperature, ROOM, activation))
    above = float(kind.curve.voltages[-1]) - first - kind.floor
    return kind.left_in_cold(temperature) * part * min(1.0, max(0.0, above / TAKE_OFF))


def flown_temperature(
    kind: Chemistry, current: float, charge: float, resistance: float, start: float, activation: float
) -> float:
    """Half-way from the temperature at take-off to that of a cell flown in still air until it has its usual reserve.

    ``resistance`` is R0 + R1 at 25 °C; it follows the temperature, so that a colder start never ends warmer.
    """
    assert kind.curve is not None
    R0 = resistance / (1 + POLARISATION_RATIO) * float(temperature_ratio(start, ROOM, activation))
    one = np.ones(1)
    cell = SeriesPack(kind.curve, one, charge * one, R0 * one, POLARISATION_RATIO * R0 * one, TIME_CONSTANT)
    warming = Warming(
        mass=cell_mass(kind, charge), start=start, ambient=start, entropy=kind.entropy, activation=activation
    )
    run = flight(cell, [Phase(current=current)], reserve=USUAL_RESERVE, warming=warming)
    assert run.temperatures is not None
    return 0.5 * (start + max(start, float(run.temperatures[0])))


def sentence(
    answer: FlightTimer,
    *,
    chemistry: ChemistryName,
    flight_time: float,
    reserve: float,
    next_temperature: float | None,
    capacity_left: float,
) -> str:
    """The answer as spoken: what to set before take-off."""
    named = f"{CHEMISTRIES[chemistry].words} pack"
    if answer.average_rate > HARDEST * (1 + SLACK):
        return f"Set no timer by this flight: no {named} gives so much charge in so short a time. Check both."
    drawn = f"The last flight drew {amperes(answer.average_current, 'up')}, {rate(answer.average_rate, 'up')}."
    if next_temperature is not None and answer._left <= 1 - ALL:
        said = (
            f"Do not take off: at {degrees(next_temperature)} this load could bring the {named} to its floor at once."
        )
        return sentences(said, drawn)
    time = quarter_minutes(answer.timer)
    if next_temperature is not None and too_cold_to_fly(next_temperature):
        said = f"Do not take off with this {named}: {cold_words(next_temperature)}."
        return sentences(said, f"By this reckoning the timer would be {time} at most.")
    far = answer.timer >= MOST_FLIGHTS * flight_time * (1 - SLACK)
    if far and answer.timer < SHORTEST - SLACK:
        return "Set no timer by this flight: so short a one tells nothing of the next. Fly longer, and ask again."
    if answer.timer < SHORTEST - SLACK:
        said = f"Do not take off so: what this {named} has above its reserve is used up at once."
        return sentences(said, drawn)
    if far:
        return sentences(f"Set the timer to {time} at most: the last flight used too little to tell more.", drawn)
    kept = f"{percent(reserve)} in this {named}" if reserve else f"nothing in this {named}"
    if capacity_left < 1 and reserve:
        kept = f"{percent(reserve)} of what this {named} still holds, {percent(capacity_left)} of its label"
    cold = ""
    if next_temperature is not None and answer._left <= 1 - NOTABLE:
        cold = f", shorter for the cold of {degrees(next_temperature)}"
    return sentences(f"Set the timer to {time}{cold}: it keeps {kept}.", drawn)


OWN_CAUTIONS: Table = {
    "flown-too-deep": (
        "warning",
        "The last flight took {used} of the capacity, more than the reserve allows: the timer is shorter than that "
        "flight.",
    ),
    "returned-too-much": (
        "danger",
        "More went back in than the label holds: the charge, the label or the charger's setting is wrong. Check before "
        "you charge this pack again.",
    ),
    # This project's own judgement.
    "drawn-too-hard": (
        "danger",
        "A flight time or a charge was read wrong, or its unit: neither timer nor current means anything.",
    ),
    "timer-cold": (
        "warning",
        "A cold pack sags more: {lost} of the usable charge is lost, by a rough model. Start with a warm pack, and "
        "land at the first sign of weakness.",
    ),
    # This project's own judgement.
    "timer-far": (
        "warning",
        "So little was put back that the timer stops at three times the last flight: fly longer, and ask again.",
    ),
    "timer-too-cold": ("danger", "So cold, this pack may not carry that load at all: warm it before you fly."),
    "timer-steady": (
        "note",
        "The timer holds for flying like the last flight: fly harder and it is too long.",
    ),
    "older-pack": ("note", "A worn pack also sags more than a new one: set the low-voltage warning as well."),
    "timer-full": (
        "note",
        "Both flights are taken from full, and the charge after the last one as carried through to full.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"timer-steady", "timer-full"})


def cautions(
    answer: FlightTimer,
    *,
    flight_time: float,
    capacity: float,
    reserve: float,
    next_temperature: float | None,
    capacity_left: float,
    chemistry: ChemistryName,
) -> Iterator[Caution]:
    """What to heed; of the warnings that nothing is kept goes first, since the timer itself lets it."""
    if not reserve:
        yield caution("no-reserve")
    if answer.average_rate > HARDEST * (1 + SLACK):
        yield caution("drawn-too-hard")
    used = answer._used / capacity
    if used > error("charge_returned")[1]:
        yield caution("returned-too-much")
    elif used > 1 - reserve + SLACK:
        yield caution("flown-too-deep", used=percent(used))
    if answer._left <= 1 - ALL:
        yield caution("timer-too-cold")
    elif answer._left <= 1 - NOTABLE:
        yield caution("timer-cold", lost=percent(1 - answer._left, "up"))
    if next_temperature is not None:
        yield from hot_cautions(next_temperature)
        yield from cold_cautions(CHEMISTRIES[chemistry], next_temperature)
    if answer.timer >= MOST_FLIGHTS * flight_time * (1 - SLACK):
        yield caution("timer-far")
    yield from worn_cautions(capacity_left)
    yield caution("timer-full")
    yield caution("timer-steady")
    if capacity_left < 1:
        yield caution("older-pack")


def accuracy(
    answer: FlightTimer,
    *,
    chemistry: ChemistryName,
    flight_time: float,
    capacity: float,
    reserve: float,
    next_capacity: float,
    next_temperature: float | None,
    capacity_left: float,
    given: frozenset[str],
) -> Iterator[Band]:
    """How far another flight may differ."""
    I, Q = answer.average_current, next_capacity * capacity_left
    basis = "a charger's count is good to about 5 percent; this project's own judgement"
    count = error("charge_returned")
    yield Band("average_current", I * count[0], I * count[1], basis)
    kind = CHEMISTRIES[chemistry]
    # Of one coulomb of capacity.
    low, high = edges("cell_resistance", kind.resistance_charge, (), {"chemistry": chemistry, "capacity": 1.0})
    asked = (chemistry, I, answer._used, capacity, Q, next_temperature)
    # A pack of much resistance loses more, but also warms more: each edge is asked with each.
    activations = [ACTIVATION * part for part in error("activation")]
    left = [left_by_cold(*asked, activation, edge) for activation in activations for edge in (low, high)]
    least, most = min(answer._left, *left), max(answer._left, *left)
    another = error("flight current")
    lower, higher = (count[side] + another[side] - 1 for side in (0, 1))
    worn, fresh = (edge / capacity_left for edge in edges("capacity_left", capacity_left, given))
    old = ", and the pack may hold 80 percent of its label" if worn < 1 else ""
    cold = ", and the cold takes what the chemistry's band of resistances leaves open" if least < 1 else ""
    whole, longest = (1 - reserve) * Q / I, MOST_FLIGHTS * flight_time
    low, high = (min(whole * least * worn / higher, longest), min(whole * most * fresh / lower, longest))
    basis = (
        f"another flight flown alike draws up to 15 percent more or less, and the count errs by 5{cold}{old}; this "
        "project's own judgement"
    )
    if low < high:
        yield band_over("timer", answer.timer, (low, high), basis)
