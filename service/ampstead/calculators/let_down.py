"""Bring a pack down through a resistor or lamps.

Over 300 lines, since a calculator is one file, with its cautions, its curve and its picture.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil, floor, log10
from typing import Annotated, Literal

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.one.emptying import Emptying, Lamps, Resistor
from ampstead.cell.one.emptying import let_down as course_of
from ampstead.cell.one.storing import Move
from ampstead.cell.sizing import current_rate, rate_current
from ampstead.declare import Band, Caution, Choice, Count, Floats, Group, OneOf, Quantity, Rate, derived
from ampstead.errors import FieldError
from ampstead.inputs.pack import ChemistryName, Pack, has_curve
from ampstead.inputs.shared import STATE_TOLD
from ampstead.judging.cautions import HOTTEST_LOAD, LONG_DISCHARGE, Table
from ampstead.judging.cautions import caution as shared
from ampstead.judging.charging import body_words, state_cautions
from ampstead.judging.doubts import error
from ampstead.judging.states import state_words
from ampstead.sketch import Chart, Limit, Panel, Span
from ampstead.words import between, count, degrees, duration, ohms, sentences, volts, watts

ASKED = "How do I empty this pack by a resistor or lamps?"
WHEN = ("back home", 15)
MAIN = ("load_resistance", "lamps", "time_total", "stop_voltage")
SOURCES = (
    "Ohm's law along the open-circuit curve, checked by scipy; curves: Ai et al. 2020 (lipo), Chen et al. 2020 "
    "(liion), Prada et al. 2013 (life), US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Values that resistors are sold in: the E12 series of IEC 60063, from memory",
    "A filament's current goes with the 0.55th power of its voltage: lamp engineers' rule, from memory",
    "A resistor rated for twice its heat, 0.3 of the capacity an hour, storage voltages: common practice, no published "
    "source",
)
EXAMPLES = (
    {"cells": 6, "capacity": "4900 mAh", "rest_voltage": "25.1 V"},
    {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "14 mΩ", "rest_voltage": "11.31 V", "to": "empty",
     "lamp_power": "21 W"},
)  # fmt: skip
SLACK = 1e-9
HARD_RATE = 1.0
HARDEST_RATE = 5.0
"""Charge rate above which no load is connected; this project's own judgement, as far as a resistor is looked for."""
NEAR = 0.03
"""Of the charge: so near to the target a pack is left as it is, as storage leaves it."""
E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
RATINGS = (5.0, 10.0, 25.0, 50.0, 100.0)
"""W in which power resistors are sold; above them in hundreds. Common practice, no published source."""
DERATING = 2.0
LAMP_MARGIN = 1.15
"""Times its rated voltage that a lamp is driven at most. This project's own judgement."""

To = Literal["storage", "empty"]


def usual_rate(load_resistance: float | None, lamp_power: float | None) -> float | None:
    """A gentle rate, where no load is told."""
    return 0.3 if load_resistance is None and lamp_power is None else None


def usual_lamp(lamp_power: float | None) -> float | None:
    """A car's."""
    return None if lamp_power is None else 12.0


def storage_is_lower(chemistry: ChemistryName, to: To) -> Iterator[FieldError]:
    """Nobody lets a lead-acid battery down."""
    if CHEMISTRIES[chemistry].kept_full:
        said = f"{CHEMISTRIES[chemistry].words} batteries are kept full: they are not let down, {to} or not"
        yield FieldError("chemistry", "unsupported", said)


RULES = (
    STATE_TOLD,
    OneOf("discharge_rate", "load_resistance", "lamp_power", asked="What is it emptied by?"),
    OneOf("lamp_voltage", "load_resistance"),
)
CHECKS = (has_curve, storage_is_lower)


@dataclass(frozen=True, slots=True, kw_only=True)
class LetDown:
    load_resistance: Annotated[
        float | None,
        Quantity("mΩ", "Resistor to use, of those sold, or the one told; none with lamps or nothing to do."),
    ]
    lamps: Annotated[
        int | None, Count("Lamps to connect in series, so that none is driven too hard; none without lamps.")
    ]
    current_start: Annotated[
        float | None, Quantity("A", "Current to begin with; none where nothing is to be done.", spoken="up")
    ]
    power_start: Annotated[
        float | None, Quantity("W", "Heat in resistor or lamps to begin with; none with the current.", spoken="up")
    ]
    advised_rating: Annotated[
        float | None, Quantity("W", "Rating of the resistor to look for; none without one.", spoken="up")
    ]
    charge_to_move: Annotated[float, Quantity("mAh", "Charge to take out; 0 where nothing is to be done.")]
    energy_released: Annotated[float, Quantity("Wh", "Energy that turns to heat in resistor or lamps.", spoken="up")]
    time_total: Annotated[
        float | None, Quantity("min", "Time until it is to be disconnected; none with the current.", spoken="down")
    ]
    stop_voltage: Annotated[
        float | None,
        Quantity("V", "Voltage of the pack, load connected, at which to disconnect it; none likewise.", spoken="up"),
    ]
    end_voltage: Annotated[float, Quantity("V", "Voltage of the pack at rest afterwards.")]
    _run: Emptying | None
    _load: Resistor | Lamps | None


def let_down(
    *,
    pack: Annotated[Pack, Group(name="pack", require=("cells", "capacity"))],
    to: Annotated[
        To, Choice("How far: to the storage charge, or empty, for a pack that is retired.", example="storage")
    ] = "storage",
    discharge_rate: Annotated[
        float,
        Rate("Rate to begin with, for which a resistor is to be found.", above=0, at_most=HARDEST_RATE, example=0.3),
    ] = derived(usual_rate, "0.3, gentle"),
    load_resistance: Annotated[
        float | None, Quantity("mΩ", "The resistor there is.", above=0, at_most="100 kΩ", example="18 Ω")
    ] = None,
    lamp_power: Annotated[
        float | None, Quantity("W", "The lamps there are, each.", above=0, at_most="1 MW", example="21 W")
    ] = None,
    lamp_voltage: Annotated[
        float, Quantity("V", "Voltage that one lamp is made for.", above=0, at_most="1 kV", example="12 V")
    ] = derived(usual_lamp, "12 volts, a car's"),
) -> LetDown:
    """What to connect to a pack that is to be brought down, how hot that gets, and for how long.

        R_load >= U / (rate * Q) - R, of the E12 series                (1)
        i      = U / (R + R_load), or by a lamp's filament             (2)
        t      = integral of dq / i                                    (3)

    All cells give the same charge, until their mean state is the target's and none is below its resting floor; empty
    is the end of the chemistry's curve. R is all of the pack's resistance. Nothing ends such a discharge by itself:
    the time and the voltage under load tell when to disconnect it. A pack that is not sound is left alone.
    """
    move = moved(pack, to)
    if refused(pack) or -move.gap <= NEAR + SLACK or move.stuck:
        return nothing(pack)
    series = pack.resolved()
    load: Resistor | Lamps
    if lamp_power is not None:
        load = Lamps(lamp_power, lamp_voltage, max(1, ceil(series.rest_voltage / (LAMP_MARGIN * lamp_voltage) - SLACK)))
    else:
        R = float(np.sum(series.ohmic + series.polarisation))
        wanted = series.rest_voltage / rate_current(discharge_rate or 1.0, pack.charge) - R
        load = Resistor(sold(max(wanted, 0.01)) if load_resistance is None else load_resistance)
    run = course_of(series, load, move.charge)
    if too_hard(pack, to, run):
        return nothing(pack, run, load)
    power = float(run.voltages[0] * run.currents[0])
    resistor = load if isinstance(load, Resistor) else None
    return LetDown(
        load_resistance=None if resistor is None else resistor.resistance,
        lamps=None if isinstance(load, Resistor) else load.count,
        current_start=float(run.currents[0]),
        power_start=power,
        advised_rating=None if resistor is None else rating(power),
        charge_to_move=move.charge,
        energy_released=run.energy,
        time_total=run.time,
        stop_voltage=float(run.voltages[-1]),
        end_voltage=float(np.sum(pack.curve.voltage(move.after()))),
        _run=run,
        _load=load,
    )


def too_hard(pack: Pack, to: To, run: Emptying) -> bool:
    """Whether a load draws more than any that is looked for, or brings a pack that is to be kept below its floor."""
    hard = current_rate(float(run.currents[0]), pack.charge) > HARDEST_RATE * (1 + SLACK)
    return hard or (to == "storage" and float(run.voltages[-1]) < pack.kind.floor * pack.size - SLACK)


def nothing(pack: Pack, run: Emptying | None = None, load: Resistor | Lamps | None = None) -> LetDown:
    """The answer where nothing is to be connected, were it for what a load that was told would draw."""
    rest = float(np.sum(pack.curve.voltage(pack.states()) - pack.shortfalls()))
    return LetDown(
        load_resistance=None,
        lamps=None,
        current_start=None,
        power_start=None,
        advised_rating=None,
        charge_to_move=0.0,
        energy_released=0.0,
        time_total=None,
        stop_voltage=None,
        end_voltage=rest,
        _run=run,
        _load=load,
    )


def moved(pack: Pack, to: To, states: Floats | None = None) -> Move:
    """The charge to take out, from the pack's own states or from others."""
    kind, curve = pack.kind, pack.curve
    storage = kind.storage_state if kind.storage_voltage is None else float(curve.state(kind.storage_voltage))
    target = 0.0 if to == "empty" else storage or 0.0
    least = 0.0 if to == "empty" or kind.rest_floor is None else float(curve.state(kind.rest_floor))
    return Move(
        states=pack.states() if states is None else states, capacities=pack.capacities(), target=target, least=least
    )


def apart(pack: Pack, to: To) -> bool:
    """Whether the lowest cell bars the way of the others, some of which stand above the storage charge."""
    move = moved(pack, to)
    return to == "storage" and move.stuck and float(np.max(move.states)) > move.target + NEAR + SLACK


def refused(pack: Pack) -> bool:
    """Whether nothing may be connected to this pack now."""
    return pack.condition != "sound" or pack.temperature > HOTTEST_LOAD + SLACK


def sold(resistance: float) -> float:
    """The next value of the E12 series, no lower, ohm."""
    decade = 10.0 ** floor(log10(resistance) + SLACK)
    return next((step * decade for step in E12 if step * decade >= resistance * (1 - SLACK)), E12[0] * decade * 10.0)


def rating(power: float) -> float:
    """Rating of a resistor that is sold and bears twice its heat, W."""
    wanted = DERATING * power
    return next((size for size in RATINGS if size >= wanted * (1 - SLACK)), 100.0 * ceil(wanted / 100.0 - SLACK))


def sentence(
    answer: LetDown,
    *,
    pack: Pack,
    to: To,
    load_resistance: float | None,
    lamp_power: float | None,
    bands: Mapping[str, Band],
) -> str:
    """The answer as spoken."""
    named, to_what = f"this {pack.kind.words} pack", "storage" if to == "storage" else "empty"
    if pack.condition != "sound":
        return f"Connect nothing to {named}: it {body_words(pack.condition)}."
    if refused(pack):
        return f"Let {named} cool first: at {degrees(pack.temperature, 'up')} it must not be loaded."
    if answer.time_total is None and answer._run is not None:
        told = "a larger resistance" if load_resistance is not None else "a lower rate"
        weaker = "weaker lamps, or more of them in series" if isinstance(answer._load, Lamps) else told
        return f"Do not connect so strong a load to {named}: take {weaker}."
    if answer.time_total is None or answer.stop_voltage is None or answer.power_start is None:
        if apart(pack, to):
            return f"Level the cells of {named} first: they stand too far apart to be let down together."
        return f"Leave {named} as it is: at {volts(answer.end_voltage)} it need not be let down to {to_what}."
    if answer.load_resistance is not None and answer.advised_rating is not None:
        what = (
            f"a resistor of {ohms(answer.load_resistance)} made for {watts(answer.advised_rating, 'up')}, which takes"
        )
    else:
        lamps, each = answer.lamps or 1, watts(lamp_power or 0.0)
        together = " each, in series, which take" if lamps > 1 else ", which takes"
        what = f"{count(lamps, 'lamp')} of {each}{together}"
    band = bands["time_total"]
    return sentences(
        f"Let {named} down to {to_what} from {state_words(pack)} through {what} "
        f"{watts(answer.power_start, 'up')} at first.",
        f"Disconnect it after {duration(answer.time_total, 'down')}, likely {between(band.low, band.high)}, or at "
        f"{volts(answer.stop_voltage, 'up')} under load, whichever comes first.",
    )


OWN_CAUTIONS: Table = {
    # Common practice, no published source.
    "nothing-stops-it": (
        "danger",
        "Nothing ends this by itself: stay with it, outdoors or on what cannot burn, and disconnect it in time; a cell "
        "drawn too far is ruined and may burn when it is charged again.",
    ),
    "load-burns": (
        "warning",
        "Resistor and lamps get hot enough to burn skin and to light paper: fix them to metal, away from the pack and "
        "from all that can burn.",
    ),
    # This project's own judgement.
    "fierce-let-down": (
        "danger",
        "A load so strong may overheat the pack, make wires and resistor glow, and bring a cell below its floor.",
    ),
    "hard-let-down": (
        "warning",
        "That is harder than the whole capacity in an hour: take a larger resistance or weaker lamps.",
    ),
    "lamp-inrush": (
        "note",
        "A cold lamp draws about ten times its current for an instant: a spark at the plug is usual.",
    ),
    # Fire services: to a battery recycling point (USFA; retrieved).
    "emptied-is-finished": (
        "danger",
        "A pack that was emptied so is finished: never charge it again, tape its plugs, and take it to a battery "
        "recycling point.",
    ),
    "weak-cell-first": (
        "warning",
        "Cell {cell} is the first to be empty: look at the cells one by one while it runs, and stop for the lowest.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"load-burns", "lamp-inrush"})


def cautions(answer: LetDown, *, pack: Pack, to: To) -> Iterator[Caution]:
    """What to heed."""
    yield from state_cautions(pack)
    if pack.temperature > HOTTEST_LOAD + SLACK:
        yield caution("discharge-hot")
    if to == "empty":
        yield caution("emptied-is-finished")
    if answer.current_start is None and answer._run is not None:
        yield caution("fierce-let-down")
    if answer.current_start is not None:
        yield caution("nothing-stops-it")
        if current_rate(answer.current_start, pack.charge) > HARD_RATE * (1 + SLACK):
            yield caution("hard-let-down")
        left = pack.states() * pack.capacities()
        if float(np.ptp(left)) > SLACK * float(np.max(left)):
            yield caution("weak-cell-first", cell=int(np.argmin(left)) + 1)
        if (answer.time_total or 0.0) > LONG_DISCHARGE * (1 + SLACK):
            yield caution("long-discharge")
        yield caution("load-burns")
        if answer.lamps is not None:
            yield caution("lamp-inrush")
    yield caution("watched-discharge")


def accuracy(answer: LetDown, *, pack: Pack, to: To) -> Iterator[Band]:
    """How sure the time is: what the voltage means, and how true a resistor is."""
    if answer._load is None or answer.time_total is None:
        return
    edges = [moved(pack, to, states) for states in pack.state_edges()]
    times = [
        0.0 if move.gap >= 0 or move.stuck else course_of(pack.resolved(states), answer._load, move.charge).time
        for move, states in zip(edges, pack.state_edges(), strict=True)
    ]
    off = error("load_resistance")
    low, high = times[0] * off[0], times[1] * off[1]
    basis = (
        "from the least to the most that its state may be, a tenth for resistor or lamp; this project's own judgement"
    )
    yield Band("time_total", min(low, answer.time_total), max(high, answer.time_total), basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    time: Annotated[Floats, Quantity("min", "Time from connecting the load.")]
    voltage: Annotated[Floats, Quantity("V", "Voltage of the pack under this load.")]
    current: Annotated[Floats, Quantity("A", "Current.")]
    charge: Annotated[Floats, Quantity("mAh", "Charge taken out.")]


def curve(answer: LetDown) -> Course:
    """The course of voltage and current; one point where nothing is connected."""
    run = answer._run
    if run is None or answer.time_total is None:
        none = np.zeros(1)
        return Course(time=none, voltage=np.array([answer.end_voltage]), current=none, charge=none)
    kept = slice(None, None, 16)
    return Course(
        time=run.times[kept], voltage=run.voltages[kept], current=run.currents[kept], charge=run.charges[kept]
    )


def picture(answer: LetDown, *, bands: Mapping[str, Band]) -> Chart:
    """Voltage and current over time, the voltage at which to stop marked."""
    band = bands.get("time_total")
    span = None if band is None else Span(band.low, band.high, f"disconnect in {between(band.low, band.high)}")
    stop = () if answer.stop_voltage is None else (Limit(answer.stop_voltage, "disconnect"),)
    return Chart(
        title="Letting down",
        x="time",
        panels=(Panel({"voltage": ""}, stop), Panel({"current": ""}, from_zero=True)),
        span=span,
    )
