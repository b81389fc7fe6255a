"""Which pack a model needs, and whether this one suits.

Over 300 lines, since a calculator is one file, with its cautions, its table and its picture.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated, Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from ampstead.cell.kinds.chemistries import CHEMISTRIES, cell_mass
from ampstead.cell.kinds.resistance import POLARISATION_RATIO, temperature_ratio
from ampstead.cell.one.heat import end_temperature
from ampstead.cell.roots import root
from ampstead.cell.sizing import current_rate, rate_current
from ampstead.declare import Band, Caution, Choice, Flag, Floats, Fraction, Group, Quantity, Rate, derived
from ampstead.errors import FieldError
from ampstead.inputs.demand import Demand
from ampstead.inputs.pack import ChemistryName, Pack, cell_count, has_curve
from ampstead.inputs.shared import LARGEST_CAPACITY, MOST_CURRENT, Floor, usual_floor
from ampstead.inputs.source import RATED_HOURS
from ampstead.judging.cautions import Table, resistance_cautions
from ampstead.judging.cautions import caution as shared
from ampstead.judging.charging import body_words
from ampstead.judging.doubts import edges
from ampstead.judging.drawing import MARGIN
from ampstead.judging.flying import cold_cautions
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import amperes, count, degrees, milliampere_hours, milliohms, percent, rate, sentences, told

SOURCES = (
    "Charge is current times time (Lessons in Electric Circuits vol. I, battery ratings); voltage under load by Ohm's "
    "law; heat balance of a cell with one RC pair, solved in closed form; compared with scipy",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3)",
    "A reserve of 20 percent, 80 percent of the label for a pack that has aged, 60 degrees, floors under load: common "
    "practice, no published source",
    "Half of a label's rate to count on, a margin of 0.8 on the heat, energy by mass: this project's own judgement",
)
ASKED = "Which pack does this model need?"
WHEN = ("before the next outing", 50)
MAIN = ("capacity_needed", "rate_needed", "suits")
MOST_ROWS = 1000
EXAMPLES = (
    {"cells": 3, "current": "14 A", "peak_current": "23 A", "time_wanted": "6 min", "mass_limit": "220 g"},
    {
        "cells": 4,
        "flight_time": "5.33 min",
        "charge_returned": "2390 mAh",
        "peak_current": "48 A",
        "time_wanted": "5 min",
        "capacity": "3700 mAh",
        "cell_resistance": "4.2 mΩ",
        "label_rate": 45,
    },
    {"cells": 3, "current": "14 A", "time_wanted": "5 min", "capacity": "2250 mAh", "cell_resistance": "14 mΩ",
     "label_rate": 30, "mass": "190 g", "mass_limit": "220 g"},
)  # fmt: skip
LIMIT_TEMPERATURE = 333.15
SLACK = 1e-9

MOST_USED = 1e3
"""How far beyond its limit a pack is told to be at most, so that every figure stays one."""
FAR_BEYOND = 9.9
"""Times a limit: a figure beyond that tells nothing more aloud."""
CURVE_POINTS = 36
HIGHEST_LABEL = 200.0
"""C: no label promises more. This project's own judgement."""

ResistanceLimit = Literal["voltage", "heat"]
Binding = Literal["capacity", "voltage", "heat", "label", "mass", "condition"]
BINDING_WORDS: dict[Binding, str] = {
    "capacity": "its capacity",
    "voltage": "the voltage of its cells at the highest current",
    "heat": "its heat",
    "label": "the rate on its label",
    "mass": "its weight",
    "condition": "its state",
}


def cells_for(
    chemistry: ChemistryName, nominal_voltage: float | None, cell_resistance: Any, capacity: Any
) -> int | None:
    """Number of cells, by a list with an entry per cell or by the voltage on the label."""
    told = cell_count(None, cell_resistance, capacity)
    if told is not None or nominal_voltage is None:
        return told
    return max(1, round(nominal_voltage / CHEMISTRIES[chemistry].nominal))


def cells_are_told(cells: int | None) -> Iterator[FieldError]:
    """The model asks for a voltage."""
    if cells is None:
        said = "cells is missing: number of cells in series, like 3 (or give nominal_voltage)"
        yield FieldError("cells", "missing", said)


def voltage_and_cells_agree(
    given: set[str], chemistry: ChemistryName, cells: int | None, nominal_voltage: float | None
) -> Iterator[FieldError]:
    """Where both were told they mean the same."""
    if nominal_voltage is None or cells is None or "cells" not in given:
        return
    told = cells_for(chemistry, nominal_voltage, None, None)
    if told != cells:
        said = f"nominal_voltage is that of {told} cells, and cells says {cells}: give one of them"
        yield FieldError("nominal_voltage", "conflict", said)
        yield FieldError("cells", "conflict", said)


def peak_is_highest(current: float | None, peak_current: float | None) -> Iterator[FieldError]:
    """No mean is above the highest."""
    if current is not None and peak_current is not None and peak_current < current * (1 - SLACK):
        for name in ("current", "peak_current"):
            yield FieldError(name, "conflict", "peak_current is the highest, and current the mean: it cannot be more")


def pack_is_whole(given: set[str]) -> Iterator[FieldError]:
    """A pack to be judged has a capacity."""
    for name in ("cell_resistance", "label_rate", "mass"):
        if name in given and "capacity" not in given:
            said = f'capacity is missing: {name} is of a pack to be judged, which needs its capacity, like "2250 mAh"'
            yield FieldError("capacity", "missing", said)
            return


CHECKS = (has_curve, cells_are_told, voltage_and_cells_agree, peak_is_highest, pack_is_whole)


@dataclass(frozen=True, slots=True, kw_only=True)
class PackForModel:
    average_current: Annotated[float, Quantity("A", "Mean current of the flight.", spoken="up")]
    capacity_needed: Annotated[
        float, Quantity("mAh", "Capacity to look for on the label, reserve and ageing counted.", spoken="up")
    ]
    rate_needed: Annotated[float, Rate("Discharge rate to look for on the label.", spoken="up")]
    largest_resistance: Annotated[
        float | None,
        Quantity(
            "mΩ",
            "Most resistance that one of its cells may have, under load for a second at 25 °C; none if none would do.",
            spoken="down",
        ),
    ]
    resistance_limited_by: Annotated[
        ResistanceLimit, Choice("What sets it: the floor at the highest current near the end, or the heat.")
    ]
    energy_needed: Annotated[float, Quantity("Wh", "Energy on the label of such a pack.", spoken="up")]
    mass_expected: Annotated[float, Quantity("g", "Mass of such a pack, by what good cells weigh.", spoken="up")]
    within_mass: Annotated[
        bool | None,
        Flag(
            "Whether a heavy one of that kind keeps to the mass allowed; not told without it.",
            yes="a heavy pack of that kind keeps to the mass allowed",
            no="a heavy pack of that kind is over the mass allowed",
        ),
    ]
    suits: Annotated[
        bool | None,
        Flag(
            "Whether the pack that was told suits; not told without one.",
            yes="the pack suits",
            no="the pack does not suit",
        ),
    ]
    binds: Annotated[
        Binding | None,
        Choice("What of that pack is nearest its limit or most beyond it; likewise.", label="limit that binds"),
    ]
    load_factor: Annotated[
        float | None,
        Fraction("How much of what binds is used; above 1 it does not suit; likewise.", spoken="up"),
    ]
    _model: "Model"


def pack_for_model(
    *,
    pack: Annotated[
        Pack,
        Group(
            name="pack",
            only=(
                "chemistry",
                "cells",
                "capacity",
                "cell_resistance",
                "resistance_method",
                "resistance_temperature",
                "polarisation_resistance",
                "polarisation_time",
                "temperature",
                "condition",
            ),
            require=("cells",),
            defaults={
                "cells": derived(cells_for, "by the label's voltage, or by a list with an entry per cell"),
                "cell_resistance": None,
            },
        ),
    ],
    nominal_voltage: Annotated[
        float | None,
        Quantity(
            "V",
            "Voltage on the label of the packs that fit, instead of cells.",
            above=0,
            at_most="100 V",
            example="11.1 V",
        ),
    ] = None,
    demand: Annotated[Demand, Group(name="demand", only=("current", "flight_time", "charge_returned"), whole=False)],
    peak_current: Annotated[
        float | None,
        Quantity("A", "Highest current, at full throttle.", above=0, at_most=MOST_CURRENT, example="23 A"),
    ] = None,
    time_wanted: Annotated[
        float, Quantity("min", "How long it is to fly.", above=0, at_most="600 min", example="6 min")
    ],
    reserve: Annotated[float, Fraction("Part of the capacity to keep.", at_least=0, at_most=0.95, example=0.2)] = 0.2,
    capacity_left: Annotated[
        float, Fraction("Part of its label's capacity that the pack is to do it with.", above=0, at_most=1, example=0.8)
    ] = 0.8,
    floor: Floor = derived(usual_floor, "the chemistry's usual floor under load"),
    label_part: Annotated[
        float, Fraction("Part of a label's discharge rate to count on.", above=0, at_most=1, example=0.5)
    ] = 0.5,
    label_rate: Annotated[
        float | None, Rate("Discharge rate on the label of the pack to be judged.", above=0, at_most=1000, example=40)
    ] = None,
    mass_limit: Annotated[
        float | None, Quantity("g", "Mass that the pack may have.", above=0, at_most="100 kg", example="220 g")
    ] = None,
    mass: Annotated[
        float | None, Quantity("g", "Mass of the pack to be judged.", above=0, at_most="100 kg", example="190 g")
    ] = None,
) -> PackForModel:
    """What to look for in a pack that carries a model so long, and whether a pack at hand does.

    With I the mean current, I_p the highest and t the time wanted,

        Q_needed = I * t / ((1 - reserve) * capacity_left)                                       (1)
        R_voltage = (U(reserve) - floor) / max(I_p, I / 0.8)                                      (2)
        T(R_heat, I / 0.8, after all but the reserve of Q_needed) = 60 degrees                    (3)
        rate_needed = I_p / Q_needed / label_part                                                 (4)

    R is fast and slow part together; what is told is the least of (2) and (3) as a reading under load for a second,
    two thirds of it, at 25 degrees. So sized, endurance at the mean current gives that time from a pack aged to
    ``capacity_left``, and safe-draw allows that current. The mass is label energy by the chemistry's energy per mass;
    real packs weigh up to 1.4 times that. A pack at hand is judged by the same: its capacity, its voltage after the
    time wanted, its heat, its label, its mass. Lead-acid gives less at high currents (Peukert, exponent 1.25) and in
    the cold.
    """
    model = Model(
        pack=pack,
        current=demand.current_of(pack.kind.charge_efficiency) or 0.0,
        peak=peak_current,
        time=time_wanted,
        reserve=reserve,
        left=capacity_left,
        floor=floor,
        label_part=label_part,
        label_rate=label_rate,
        mass_limit=mass_limit,
        mass=mass,
    )
    largest, by = model.largest
    binds = model.binding
    return PackForModel(
        average_current=model.current,
        capacity_needed=model.needed,
        rate_needed=current_rate(model.highest, model.needed) / label_part,  # Eq. (4)
        largest_resistance=largest,
        resistance_limited_by=by,
        energy_needed=model.needed * pack.size * pack.kind.nominal,
        mass_expected=model.light,
        within_mass=None if mass_limit is None else heavier()[1] * model.light <= mass_limit * (1 + SLACK),
        suits=None if binds is None else model.suits,
        binds=None if binds is None else binds[0],
        load_factor=None if binds is None or binds[0] == "condition" else binds[1],
        _model=model,
    )


@dataclass(frozen=True, kw_only=True)
class Model:
    """What a model asks of a pack, and the pack at hand."""

    pack: Pack
    current: float
    peak: float | None
    time: float
    reserve: float
    left: float
    floor: float
    label_part: float
    label_rate: float | None
    mass_limit: float | None
    mass: float | None

    @property
    def highest(self) -> float:
        """The highest current, A; the mean where none was told."""
        return max(self.current, self.peak or 0.0)

    @property
    def carried(self) -> float:
        """The current at which no cell may fall below its floor, A."""
        return max(self.highest, self.current / MARGIN)

    @cached_property
    def needed(self) -> float:
        """Eq. (1), C; of lead-acid as much as Peukert's law leaves of it."""
        kind = self.pack.kind
        kept = (1 - self.reserve) * self.left * kind.left_in_cold(self.pack.temperature)
        charge = self.current * self.time / kept
        if kind.peukert is None:
            return charge
        k = kind.peukert[1]
        return max(charge, float((charge * (self.current * RATED_HOURS * 3600.0) ** (k - 1)) ** (1 / k)))

    @property
    def light(self) -> float:
        """Mass of the pack that is needed, of good cells alone, kg."""
        return self.pack.size * cell_mass(self.pack.kind, self.needed)

    def lands_at(self, ohmic: ArrayLike, polarisation: ArrayLike, spent: float, mass: ArrayLike) -> Floats:
        """Temperature of cells after a flight at the mean current over the margin, K."""
        T, current = self.pack.temperature, self.current / MARGIN
        return end_temperature(
            current=current,
            time=spent / current,
            ohmic=ohmic,
            polarisation=polarisation,
            time_constant=self.pack.polarisation_time,
            mass=mass,
            start=T,
            ambient=T,
            cooling=0.0,
            entropy=self.pack.kind.entropy,
        )

    @cached_property
    def largest(self) -> tuple[float | None, ResistanceLimit]:
        """The most resistance, as read under load for a second at 25 °C, and what sets it."""
        drop = float(self.pack.curve.voltage(self.reserve)) - self.floor
        by_voltage = drop / self.carried  # Eq. (2)
        if by_voltage <= 0:
            return None, "voltage"
        spent, mass = (1 - self.reserve) * self.needed, cell_mass(self.pack.kind, self.needed)

        def over(whole: float) -> float:
            fast = whole / (1 + POLARISATION_RATIO)
            return float(self.lands_at(fast, whole - fast, spent, mass)) - LIMIT_TEMPERATURE

        if over(0.0) >= 0:
            return None, "heat"
        whole, by = by_voltage, "voltage"
        if over(by_voltage) > 0:
            whole, by = root(over, 0.0, by_voltage), "heat"  # Eq. (3)
        warmth = float(temperature_ratio(self.pack.temperature))
        return whole / (1 + POLARISATION_RATIO) / warmth, by  # type: ignore[return-value]  # one of the two words

    @cached_property
    def used(self) -> list[tuple[Binding, float]]:
        """Of the pack at hand, how much of each of its limits is used; above 1 is too much."""
        pack = self.pack
        if pack.capacity is None:
            return []
        found: list[tuple[Binding, float]] = [("capacity", self.needed / pack.charge)]
        if pack.cell_resistance is not None:
            spent = self.current * self.time
            held = pack.capacities() * self.left * pack.kind.left_in_cold(pack.temperature)
            # A flight that takes more charge than there is fails by its capacity: the voltage is judged at the reserve.
            drops = pack.curve.voltage(np.clip(1 - spent / held, self.reserve, 1.0)) - self.floor
            most = float(np.min(drops / (pack.ohmic() + pack.polarisation())))
            found.append(("voltage", self.carried / most if most > 0 else np.inf))
            masses = np.array([cell_mass(pack.kind, charge) for charge in pack.capacities().tolist()])
            if self.mass is not None:
                masses = np.minimum(masses, self.mass / pack.size)
            lands = float(np.max(self.lands_at(pack.ohmic(), pack.polarisation(), spent, masses)))
            room = LIMIT_TEMPERATURE - pack.temperature
            found.append(("heat", max(0.0, lands - pack.temperature) / room if room > 0 else np.inf))
        if self.label_rate is not None:
            allowed = rate_current(self.label_rate * self.label_part, pack.charge)
            found.append(("label", self.highest / allowed))
        if self.mass is not None and self.mass_limit is not None:
            found.append(("mass", self.mass / self.mass_limit))
        return [(name, min(part, MOST_USED)) for name, part in found]

    @property
    def binding(self) -> tuple[Binding, float] | None:
        """What is nearest its limit, or most beyond it."""
        if self.pack.capacity is None:
            return None
        if self.pack.unsound:
            return "condition", 1.0
        return max(self.used, key=lambda entry: entry[1])

    @property
    def suits(self) -> bool:
        return not self.pack.unsound and all(part <= 1 + SLACK for _, part in self.used)


def sentence(answer: PackForModel, *, pack: Pack, time_wanted: float) -> str:
    """The answer as spoken."""
    kind = pack.kind
    if answer.binds == "condition":
        return f"This {kind.words} pack does not suit: it {body_words(pack.condition)}."
    flown = f"a flight of {told(time_wanted)} at {amperes(answer.average_current, 'up')}"
    wanted = f"for {told(time_wanted)} at {amperes(answer.average_current, 'up')}"
    looked = (
        f"{milliampere_hours(answer.capacity_needed, 'up')} or more, {rate(answer.rate_needed, 'up')} or more on its "
        f"label"
    )
    none = no_pack(answer, pack)
    if answer.suits is None and none:
        return none
    if answer.suits is None:
        assert answer.largest_resistance is not None
        resistance = f"at most {milliohms(answer.largest_resistance, 'down')} a cell"
        weight = ""
        if answer.within_mass is not None:
            weight = (
                "It should keep to the weight allowed." if answer.within_mass else "It may weigh more than allowed."
            )
        look = f"a {kind.words} pack of {count(pack.size, 'cell')} with {looked}, and {resistance}"
        return sentences(f"To fly {wanted} look for {look}.", weight)
    assert answer.binds is not None
    assert answer.load_factor is not None
    much = percent(answer.load_factor, "up") if answer.load_factor < FAR_BEYOND else "far more than a hundred percent"
    used = f"{much} of what {BINDING_WORDS[answer.binds]} allows"
    if answer.suits:
        return f"This {kind.words} pack suits {flown}: that takes {used}."
    return sentences(f"This {kind.words} pack does not suit {flown}: that takes {used}.", none or f"Look for {looked}.")


def no_pack(answer: PackForModel, pack: Pack) -> str | None:
    """Why there is no pack to look for, in words; None where there is one."""
    kind = pack.kind
    if answer.capacity_needed > LARGEST_CAPACITY * (1 + SLACK):
        return f"No {kind.words} pack does that: it takes more charge than any holds. Check the current and the time."
    if answer.rate_needed > HIGHEST_LABEL * (1 + SLACK):
        return (
            f"A {kind.words} pack just large enough for that needs more C on its label than any promises. Take a much "
            "larger one, or ask for a longer time or a lower highest current."
        )
    if answer.largest_resistance is None:
        hot = f"from {degrees(pack.temperature)} such a flight makes it too hot; cool it"
        low = "at its reserve a cell rests below its floor; keep more, or lower the floor"
        why = hot if answer.resistance_limited_by == "heat" else low
        return f"No {kind.words} pack does that, however little its resistance: {why}."
    return None


OWN_CAUTIONS: Table = {
    # Common practice, no published source.
    "labels-overstate": (
        "warning",
        "Discharge rates on labels are commonly overstated, and no standard says how they are measured: count on the "
        "resistance, measured under load, and not on the label.",
    ),
    # This project's own judgement.
    "hardly-any-pack": (
        "warning",
        "Hardly any pack of this kind and size has so little resistance: take more capacity or cells, or less current.",
    ),
    "too-heavy": (
        "warning",
        "Even of light cells such a pack is heavier than allowed: fly shorter, or with less current.",
    ),
    "mass-close": ("note", "Only a light one of these packs keeps to the weight allowed: weigh it before you buy it."),
    "resistance-untold": (
        "warning",
        "The resistance of its cells was not told, so that neither their voltage nor their heat was looked at: measure "
        "it under load before you trust this.",
    ),
}  # fmt: skip
caution = shared.beside(OWN_CAUTIONS, standing={"labels-overstate"})


def cautions(
    answer: PackForModel, *, pack: Pack, reserve: float, mass_limit: float | None, given: frozenset[str]
) -> Iterator[Caution]:
    """What to heed."""
    if pack.unsound:
        yield caution(pack.condition)
    band = pack.kind.resistance_charge_band
    largest = answer.largest_resistance
    if not answer.suits:  # of one that does, nothing is said of a smaller one
        if largest is None and answer.resistance_limited_by == "heat":
            yield caution("hot-start")
        elif largest is None or (band is not None and largest * answer.capacity_needed < band[0] * (1 - SLACK)):
            yield caution("hardly-any-pack")
    if answer.within_mass is False and mass_limit is not None:
        yield caution("too-heavy" if answer.mass_expected > mass_limit * (1 + SLACK) else "mass-close")
    if pack.capacity is not None and not pack.unsound:
        if pack.cell_resistance is None:
            yield caution("resistance-untold")
        else:
            yield from resistance_cautions(pack, given)
    if not reserve:
        yield caution("no-reserve")
    yield from cold_cautions(pack.kind, pack.temperature)
    yield caution("labels-overstate")
    if pack.kind.peukert:
        yield caution("peukert-assumed")
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")


def heavier() -> tuple[float, float]:
    """Least and most that a pack of this kind may weigh, over the mass of bare good cells."""
    least, most = edges("cell_mass", 1.0, ())
    return least, most


def accuracy(answer: PackForModel, *, capacity_left: float, given: frozenset[str]) -> Iterator[Band]:
    """How sure the mass is."""
    basis = (
        "from 0.95 of the mass of bare good cells to 1.4 times it, with wires, wrap and cells made for high rates, and "
        "what an old pack holds where that was assumed; this project's own judgement"
    )
    # An older pack must be larger, and so heavier.
    worn, fresh = edges("capacity_left", capacity_left, given)
    light, heavy = heavier()
    low, high = light * capacity_left / fresh, heavy * capacity_left / worn
    yield Band("mass_expected", answer.mass_expected * low, answer.mass_expected * high, basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedCurve:
    time: Annotated[Floats, Quantity("min", "Time that it is to fly.")]
    capacity: Annotated[Floats, Quantity("mAh", "Capacity to look for.")]
    mass: Annotated[Floats, Quantity("g", "Mass of such a pack, of light cells.")]
    rate: Annotated[Floats, Rate("Discharge rate to look for on the label.")]


def curve(answer: PackForModel) -> NeedCurve:
    """What shorter and longer flights need."""
    model = answer._model
    every = [replace(model, time=part * model.time) for part in np.linspace(0.25, 2.0, CURVE_POINTS).tolist()]
    return NeedCurve(
        time=np.array([one.time for one in every]),
        capacity=np.array([one.needed for one in every]),
        mass=np.array([one.light for one in every]),
        rate=np.array([current_rate(one.highest, one.needed) / one.label_part for one in every]),
    )


def picture(answer: PackForModel, *, pack: Pack, time_wanted: float, mass_limit: float | None) -> Chart:
    """Capacity and mass against the time wanted, the pack at hand and the mass allowed marked."""
    wanted = Limit(time_wanted, "wanted", upright=True)
    told = () if pack.capacity is None else (Limit(pack.charge, "this pack"),)
    most = () if mass_limit is None else (Limit(mass_limit, "allowed"),)
    return Chart(
        title="What the model needs",
        x="time",
        panels=(
            Panel({"capacity": ""}, (*told, wanted), from_zero=True),
            Panel({"mass": ""}, (*most, wanted), from_zero=True),
        ),
    )
