"""Set the timer from the last flight."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.kinds.resistance import ACTIVATION, POLARISATION_RATIO, TEMPERATURE_BAND, temperature_ratio
from ampstead.cell.one.reserve import stranded_charge
from ampstead.cell.sizing import current_rate
from ampstead.declare import Band, Caution, Fraction, Quantity, Rate, derived
from ampstead.errors import FieldError
from ampstead.inputs.pack import ROOM, ChemistryInput, ChemistryName
from ampstead.judging.cautions import caution
from ampstead.words import amperes, degrees, percent, quarter_minutes, rate, sentences

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

COUNT_ERROR = 0.05  # Of a charger's count of what went back in; this project's own judgement.
FLIGHT_ERROR = 0.15  # Of the mean current of another flight flown alike; this project's own judgement.
MOST_FLIGHTS = 3  # That a timer may be long; this project's own judgement.
NOTABLE, ALL = 0.01, 0.95  # Of the charge; this project's own judgement.
VERY_COLD = 263.15
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
        float, Quantity("min", "What to set the timer to: then the reserve of the next pack is left.", spoken="down")
    ]
    average_current: Annotated[float, Quantity("A", "Mean current of the last flight.", spoken="up")]
    average_rate: Annotated[float, Rate("That current in multiples of the last pack's capacity per hour.", spoken="up")]


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

    The last flight tells the current, and the next pack what may be used of it, both flown from full:

        I     = charge_returned / flight_time                                          (1)
        Q     = next_capacity * capacity_left                                          (2)
        timer = (1 - reserve) * left * Q / I, at most 3 * flight_time                  (3)

    A colder pack has more resistance, and its cells meet their floor under load with more charge stranded below:

        left  = (1 - z(floor + I * R(T))) / (1 - z(floor + I * R(25 °C))), at most 1   (4)

    with z the state of charge at an open-circuit voltage, and R = R0 + R1 the chemistry's cautious resistance over Q,
    but no more than the last flight proves: its last cell met no floor. Warmth is credited nothing. Eq. (4) is this
    project's own judgement: warming in flight helps, and high throttle hurts more than the mean current tells. So is
    the bound of eq. (3): where so little was put back, a slip of the count is many minutes.
    """
    I = charge_returned / flight_time  # Eq. (1)
    Q = next_capacity * capacity_left  # Eq. (2)
    left = left_by_cold(chemistry, I, charge_returned, capacity, Q, next_temperature)
    return FlightTimer(
        timer=min((1 - reserve) * left * Q / I, MOST_FLIGHTS * flight_time),  # Eq. (3)
        average_current=I,
        average_rate=current_rate(I, capacity),
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
    warm = current * min(whole, proven) / charge
    cold = warm * float(temperature_ratio(temperature, ROOM, activation))
    usable = 1 - stranded_charge(kind.curve, kind.floor, warm)
    return (1 - stranded_charge(kind.curve, kind.floor, cold)) / usable if usable > 0 else 0.0  # Eq. (4)


def sentence(
    answer: FlightTimer,
    *,
    chemistry: ChemistryName,
    flight_time: float,
    charge_returned: float,
    capacity: float,
    reserve: float,
    next_capacity: float,
    next_temperature: float | None,
    capacity_left: float,
) -> str:
    """The answer as spoken: what to set before take-off."""
    named = f"{CHEMISTRIES[chemistry].words} pack"
    drawn = f"The last flight drew {amperes(answer.average_current, 'up')}, {rate(answer.average_rate, 'up')}."
    Q = next_capacity * capacity_left
    lost = 1 - left_by_cold(chemistry, answer.average_current, charge_returned, capacity, Q, next_temperature)
    if next_temperature is not None and lost >= ALL:
        said = (
            f"Do not take off: at {degrees(next_temperature)} this load could bring the {named} to its floor at once."
        )
        return sentences(said, drawn)
    kept = f"{percent(reserve)} in this {named}"
    if capacity_left < 1:
        kept = f"{percent(reserve)} of what this {named} still holds, {percent(capacity_left)} of its label"
    cold = ""
    if next_temperature is not None and lost >= NOTABLE:
        cold = f", shorter for the cold of {degrees(next_temperature)}"
    keeps = "it keeps" if answer.timer < MOST_FLIGHTS * flight_time * (1 - SLACK) else "it keeps more than"
    return sentences(f"Set the timer to {quarter_minutes(answer.timer)}{cold}: {keeps} {kept}.", drawn)


def cautions(
    answer: FlightTimer,
    *,
    chemistry: ChemistryName,
    flight_time: float,
    charge_returned: float,
    capacity: float,
    reserve: float,
    next_capacity: float,
    next_temperature: float | None,
    capacity_left: float,
) -> Iterator[Caution]:
    """What to heed."""
    used = charge_returned / capacity
    if used > 1 + COUNT_ERROR:
        yield caution("returned-too-much")
    elif used > 1 - reserve + SLACK:
        yield caution("flown-too-deep", used=percent(used))
    Q = next_capacity * capacity_left
    lost = 1 - left_by_cold(chemistry, answer.average_current, charge_returned, capacity, Q, next_temperature)
    if lost >= ALL:
        yield caution("timer-too-cold")
    elif lost >= NOTABLE:
        yield caution("timer-cold", lost=percent(lost))
    if next_temperature is not None and next_temperature < VERY_COLD:
        yield caution("very-cold")
    if not reserve:
        yield caution("no-reserve")
    if answer.timer >= MOST_FLIGHTS * flight_time * (1 - SLACK):
        yield caution("timer-far")
    yield caution("timer-steady")
    if capacity_left < 1:
        yield caution("older-pack")


def accuracy(
    answer: FlightTimer,
    *,
    chemistry: ChemistryName,
    flight_time: float,
    charge_returned: float,
    capacity: float,
    reserve: float,
    next_capacity: float,
    next_temperature: float | None,
    capacity_left: float,
) -> Iterator[Band]:
    """How far another flight may differ."""
    I, Q = answer.average_current, next_capacity * capacity_left
    basis = "a charger's count is good to about 5 percent; this project's own judgement"
    yield Band("average_current", I * (1 - COUNT_ERROR), I * (1 + COUNT_ERROR), basis)
    kind = CHEMISTRIES[chemistry]
    low, high = kind.resistance_charge_band or (kind.resistance_charge, kind.resistance_charge)
    asked = (chemistry, I, charge_returned, capacity, Q, next_temperature)
    most = left_by_cold(*asked, TEMPERATURE_BAND[0], low)
    least = left_by_cold(*asked, TEMPERATURE_BAND[1], high)
    off = COUNT_ERROR + FLIGHT_ERROR
    cold = ", and the cold takes what the chemistry's band of resistances leaves open" if least < 1 else ""
    yield Band(
        "timer",
        min((1 - reserve) * least * Q / I / (1 + off), MOST_FLIGHTS * flight_time),
        min((1 - reserve) * most * Q / I / (1 - off), MOST_FLIGHTS * flight_time),
        f"another flight flown alike draws up to 15 percent more or less, and the count errs by 5{cold}; this "
        "project's own judgement",
    )
