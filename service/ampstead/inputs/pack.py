"""The pack: one group of inputs, the same wherever a calculator asks for it.

Over 300 lines: inputs, checks and what they resolve to stay together.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Annotated, Any, ClassVar, Literal

import numpy as np

from ampstead.cell.column import Column, each, listed
from ampstead.cell.kinds.chemistries import CHEMISTRIES, Chemistry
from ampstead.cell.kinds.curves import Curve, state_band
from ampstead.cell.kinds.resistance import (
    TIME_CONSTANT,
    ohmic_part,
    temperature_ratio,
    usual_slow_part,
)
from ampstead.cell.one.series import SeriesPack
from ampstead.cell.rows.alike import PackColumn
from ampstead.declare import SLACK, Choice, Count, Extensible, Floats, Fraction, OneOf, Quantity, derived
from ampstead.errors import FieldError

Checks = tuple[Callable[..., Iterator[FieldError]], ...]

ROOM = 298.15  # 25 °C, in kelvin

ChemistryName = Literal["lipo", "lihv", "liion", "life", "nimh", "nicd", "lead"]
Condition = Literal["sound", "swollen", "damaged", "wet", "crashed"]
ResistanceMethod = Literal["1kHz", "charger", "1s", "10s"]

MOST_OVERCHARGED = 4.9 / 4.2
"""Of the end of charge: no cell reads so much and is still one. This project's own judgement."""

LABELS: Mapping[str, str] = {
    "lipo": "LiPo",
    "lihv": "LiHV",
    "liion": "Li-ion",
    "life": "LiFePO4",
    "nimh": "NiMH",
    "nicd": "NiCd",
    "lead": "Pb",
}
"""As most labels name a chemistry."""

# Labels spell them so; hyphens, blanks and the case of letters do not count.
CHEMISTRY_SPELLINGS: Mapping[str, ChemistryName] = {
    **dict.fromkeys(("Li-Po", "LiPoly"), "lipo"),
    **dict.fromkeys(("Li-HV", "LiPo-HV", "HV-LiPo"), "lihv"),
    "Li-ion": "liion",
    **dict.fromkeys(("LiFePO4", "LiFe", "LFP", "Li-Fe"), "life"),
    "Ni-MH": "nimh",
    **dict.fromkeys(("Ni-Cd", "NiCad"), "nicd"),
    **dict.fromkeys(("Pb", "AGM", "SLA", "lead-acid"), "lead"),
}

SHORTER = {"lihv": "high voltage", "life": "iron phosphate"}
"""Words that leave a chemistry's name and its label room in a phone's box."""
CHEMISTRY_WORDS = {name: f"{SHORTER.get(name, kind.words)} ({LABELS[name]})" for name, kind in CHEMISTRIES.items()}

ChemistryInput = Annotated[
    ChemistryName,
    Choice(
        "Kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion, lithium-iron-phosphate, "
        "nickel-metal-hydride, nickel-cadmium or lead-acid.",
        example="lipo",
        spellings=CHEMISTRY_SPELLINGS,
        words=CHEMISTRY_WORDS,
    ),
]
ConditionInput = Annotated[
    Condition,
    Choice(
        "State of the pack's body; anything but sound is not charged, joined or flown.",
        example="sound",
        label="state of its body",
        words={"wet": "wet, or was"},
    ),
]
Cells = Annotated[
    int | None,
    Count("Number of cells in series, as on the label.", at_least=1, at_most=24, example=4, label="cells in series"),
]
Capacity = Annotated[
    float | Floats | None,
    Quantity(
        "mAh",
        "Capacity on the label; one for all cells, or one per cell.",
        at_least="10 mAh",
        at_most="200 Ah",
        example="2250 mAh",
    ),
]
CellVoltages = Annotated[
    Floats | None,
    Quantity(
        "V",
        "Voltage of each cell at rest.",
        at_least=0,
        example="3.77,3.76,3.79,3.75 V",
        label="voltage of each cell at rest",
    ),
]


def cell_count(cell_voltages: Floats | None, cell_resistance: Any, capacity: Any) -> int | None:
    """Number of cells, where a list with an entry per cell tells it."""
    for values in (cell_voltages, cell_resistance, capacity):
        if isinstance(values, np.ndarray):
            return len(values)
    return None


def usual_cell_resistance(chemistry: ChemistryName, capacity: Any, pack_resistance: float | None) -> Any:
    """A cautious resistance per cell from chemistry and capacity (own judgement)."""
    if pack_resistance is not None or capacity is None:
        return None
    return CHEMISTRIES[chemistry].resistance_charge / capacity


def usual_polarisation(
    cell_resistance: Any,
    pack_resistance: float | None,
    cells: int | None,
    resistance_method: ResistanceMethod,
    polarisation_time: float,
) -> Any:
    """Half the ohmic part (a fit), both at the temperature of the measurement."""
    figure = _per_cell(cell_resistance, pack_resistance, cells)
    return None if figure is None else usual_slow_part(figure, resistance_method, polarisation_time)


def slow_part_fits(
    given: set[str],
    cell_resistance: Any,
    pack_resistance: float | None,
    cells: int | None,
    polarisation_resistance: Any,
    polarisation_time: float,
    resistance_method: ResistanceMethod,
) -> Iterator[FieldError]:
    """What ten seconds of load measured holds more than the part of the slow resistance that has come by then."""
    figure = _per_cell(cell_resistance, pack_resistance, cells)
    if resistance_method != "10s" or "polarisation_resistance" not in given or figure is None:
        return
    if np.ndim(figure) and np.ndim(polarisation_resistance) and np.shape(figure) != np.shape(polarisation_resistance):
        return
    if np.any(ohmic_part(figure, resistance_method, polarisation_resistance, polarisation_time) <= 0):
        told = "pack_resistance" if pack_resistance is not None else "cell_resistance"
        said = f"polarisation_resistance leaves nothing of {told} for the fast part: after ten seconds it holds both"
        yield FieldError("polarisation_resistance", "conflict", said)
        yield FieldError(told, "conflict", said)


def _per_cell(cell_resistance: Any, pack_resistance: float | None, cells: int | None) -> Any:
    if pack_resistance is not None:
        return pack_resistance / cells if cells else None
    return cell_resistance


def lengths_agree(
    given: set[str],
    cells: int | None,
    cell_voltages: Floats | None = None,
    cell_resistance: Any = None,
    capacity: Any = None,
    polarisation_resistance: Any = None,
    cell_mass: Any = None,
) -> Iterator[FieldError]:
    """Lists with an entry per cell must be as long as the pack has cells, and as each other."""
    told = (
        ("cell_voltages", cell_voltages),
        ("cell_resistance", cell_resistance),
        ("capacity", capacity),
        ("polarisation_resistance", polarisation_resistance),
        ("cell_mass", cell_mass),
    )
    lists = {name: len(values) for name, values in told if isinstance(values, np.ndarray) and name in given}
    if not lists:
        return
    lengths = ({"cells": cells} if "cells" in given and cells else {}) | lists
    if len(set(lengths.values())) > 1:
        said = " but ".join(
            f"cells says {size}" if name == "cells" else f"{name} has {size} values" for name, size in lengths.items()
        )
        for name in lengths:
            yield FieldError(name, "wrong_length", f"{said}: give one value per cell")
    elif cells is None:
        for name, size in lists.items():
            said = f"{name} has {size} values, and nothing tells that there are so many cells: give cells"
            yield FieldError(name, "wrong_length", said)


def cells_in_range(chemistry: ChemistryName | None, cells: int | None) -> Iterator[FieldError]:
    """Packs of this hobby have at most so many cells in series; no chemistry is known where its own input failed."""
    if not cells or chemistry is None:
        return
    kind = CHEMISTRIES[chemistry]
    if cells > kind.most_cells:
        said = f"cells must be at most {kind.most_cells} for a {kind.words} pack; {cells} were given"
        yield FieldError("cells", "out_of_range", said)


def voltages_in_range(
    chemistry: ChemistryName,
    cells: int | None,
    rest_voltage: float | None = None,
    cell_voltages: Floats | None = None,
) -> Iterator[FieldError]:
    """A resting voltage may exceed the end of charge by so much that it is a finding; beyond that it is a mistake."""
    if CHEMISTRIES[chemistry].curve is None:
        return
    most = _highest_reading(CHEMISTRIES[chemistry])
    if cell_voltages is not None and max(cell_voltages.tolist()) > most - SLACK:
        place = int(np.argmax(cell_voltages))
        yield FieldError("cell_voltages", "out_of_range", _too_high(cell_voltages[place], most, chemistry))
    if rest_voltage is not None and cells and rest_voltage / cells > most - SLACK:
        said = _too_high(rest_voltage / cells, most, chemistry)
        yield FieldError("rest_voltage", "out_of_range", f"{said}; rest_voltage is the whole pack's, count the cells")


def _highest_reading(chemistry: Chemistry) -> float:
    return MOST_OVERCHARGED * chemistry.end_of_charge


def _too_high(voltage: float, most: float, chemistry: ChemistryName) -> str:
    words = CHEMISTRIES[chemistry].words
    return (
        f"{voltage:.3f} V a cell is more than a {words} cell can have (below {most:.2f} V): "
        "do not charge it; check meter, chemistry and number of cells"
    )


def has_curve(chemistry: ChemistryName) -> Iterator[FieldError]:
    """For calculators that need an open-circuit curve."""
    if CHEMISTRIES[chemistry].curve is None:
        words = CHEMISTRIES[chemistry].words
        said = f"{words} packs are not supported here: no open-circuit curve is published for them"
        said += "; nickel-charge tells how they are charged"
        yield FieldError("chemistry", "unsupported", said)


@dataclass(frozen=True, kw_only=True)
class Pack(Extensible):
    """A pack of cells in series.

    In SI; ``None`` where a calculator does not ask. What follows from it is worked out once; arrays are not to be
    written to.
    """

    chemistry: ChemistryInput = "lipo"
    cells: Cells = derived(cell_count, "told by a list with an entry per cell")
    capacity: Capacity = None
    cell_resistance: Annotated[
        float | Floats | None,
        Quantity(
            "mΩ",
            "Resistance of one cell, or of each cell.",
            above=0,
            at_most="10 Ω",
            example="8.5 mΩ",
        ),
    ] = derived(usual_cell_resistance, "a cautious figure by chemistry, divided by the capacity")
    pack_resistance: Annotated[
        float | None,
        Quantity(
            "mΩ",
            "Resistance of the whole pack; divided evenly among the cells.",
            above=0,
            at_most="100 Ω",
            example="25.5 mΩ",
        ),
    ] = None
    resistance_method: Annotated[
        ResistanceMethod,
        Choice(
            "How the resistance was measured: at 1 kHz, by a charger, or under load for one or ten seconds.",
            example="1s",
            label="how that was measured",
            words={
                "1kHz": "at 1 kHz, by a meter",
                "charger": "by a charger",
                "1s": "1 second under load",
                "10s": "10 seconds under load",
            },
        ),
    ] = "1s"
    resistance_temperature: Annotated[
        float,
        Quantity(
            "°C",
            "Temperature of the cells when the resistance was measured.",
            at_least="-20 °C",
            at_most="70 °C",
            example="25 °C",
            aside=True,
            label="temperature when that was measured",
        ),
    ] = ROOM
    polarisation_resistance: Annotated[
        float | Floats | None,
        Quantity(
            "mΩ",
            "Slow part of a cell's resistance, which appears over the polarisation time; one, or one per cell.",
            at_least=0,
            at_most="10 Ω",
            example="4.2 mΩ",
            aside=True,
        ),
    ] = derived(usual_polarisation, "half of the cell resistance")
    polarisation_time: Annotated[
        float,
        Quantity(
            "s", "Time constant of the slow part.", at_least="0.1 s", at_most="3600 s", example="30 s", aside=True
        ),
    ] = TIME_CONSTANT
    temperature: Annotated[
        float,
        Quantity(
            "°C",
            "Temperature of the pack now.",
            at_least="-20 °C",
            at_most="70 °C",
            example="25 °C",
            label="temperature of the pack",
        ),
    ] = ROOM
    state_of_charge: Annotated[
        float | None,
        Fraction(
            "State of charge of every cell, empty at 0, full at 1 or 100 %.",
            at_least=0,
            at_most=1,
            example=0.2,
        ),
    ] = None
    rest_voltage: Annotated[
        float | None,
        Quantity(
            "V",
            "Voltage of the whole pack at rest.",
            at_least=0,
            example="15.07 V",
            label="voltage of the pack at rest",
        ),
    ] = None
    cell_voltages: CellVoltages = None
    condition: ConditionInput = "sound"

    RULES: ClassVar[tuple[OneOf, ...]] = (
        OneOf("state_of_charge", "rest_voltage", "cell_voltages", asked="How full is it?"),
        OneOf("cell_resistance", "pack_resistance", asked="What is its resistance?"),
    )
    CHECKS: ClassVar[Checks] = (lengths_agree, cells_in_range, voltages_in_range, slow_part_fits)

    @property
    def kind(self) -> Chemistry:
        """The chemistry's constants."""
        return CHEMISTRIES[self.chemistry]

    @property
    def curve(self) -> Curve:
        """The open-circuit curve; calculators without one refuse the chemistry first (``has_curve``)."""
        assert self.kind.curve is not None
        return self.kind.curve

    @property
    def unsound(self) -> bool:
        """Whether its body was told to be anything but sound."""
        return self.condition not in ("sound", None)

    @property
    def size(self) -> int:
        """Number of cells."""
        assert self.cells is not None
        return self.cells

    @property
    def charge(self) -> float:
        """Capacity of the pack: that of its smallest cell, in coulomb (infinite where it was not given)."""
        if self.capacity is None:
            return np.inf
        return min(self.capacity.tolist()) if isinstance(self.capacity, np.ndarray) else self.capacity

    def capacities(self) -> Floats:
        """Capacity of each cell, coulomb, shape (cells,)."""
        return self._capacities

    @cached_property
    def _capacities(self) -> Floats:
        return self._each(self._capacity)

    @property
    def _capacity(self) -> float | Floats:
        return np.inf if self.capacity is None else self.capacity

    def ohmic(self) -> Floats:
        """R0 of each cell after method and temperature, ohm, shape (cells,)."""
        return self._ohmic

    @cached_property
    def _ohmic(self) -> Floats:
        return self._each(self._fast)

    def polarisation(self) -> Floats:
        """R1 of each cell at the pack's temperature, ohm, shape (cells,)."""
        return self._each(self._slow)

    @cached_property
    def _fast(self) -> Any:
        """R0 of all cells or of each."""
        figure = _per_cell(self.cell_resistance, self.pack_resistance, self.cells)
        R0 = ohmic_part(figure, self.resistance_method, self.polarisation_resistance, self.polarisation_time)
        return R0 * self._warmth

    @property
    def _slow(self) -> Any:
        """R1 likewise."""
        return self.polarisation_resistance * self._warmth  # type: ignore[operator]  # where it is asked for

    @cached_property
    def _warmth(self) -> float:
        return float(temperature_ratio(self.temperature, self.resistance_temperature))

    def _each(self, value: Any) -> Floats:
        each: Floats = listed(self.size, value)
        return each

    def voltage_readings(self) -> Floats | None:
        """Resting voltage of each cell where it was given (a pack's voltage shared evenly), shape (cells,)."""
        told = self.cell_voltages is not None or self.rest_voltage is None
        return self.cell_voltages if told else self._shared_voltage

    @cached_property
    def _shared_voltage(self) -> Floats:
        assert self.rest_voltage is not None
        return self._each(self.rest_voltage / self.size)

    def states(self) -> Floats:
        """State of charge of each cell, shape (cells,)."""
        return self._states

    @cached_property
    def _states(self) -> Floats:
        readings = self.voltage_readings()
        if readings is None:
            assert self.state_of_charge is not None
            return self._each(self.state_of_charge)
        return self.curve.state(readings)

    @property
    def fills(self) -> list[tuple[float, float]]:
        """State of charge and capacity of each cell, or once for all where nothing tells them apart."""
        state, capacity = self.state_of_charge, self._capacity
        if state is not None and self.voltage_readings() is None and not isinstance(capacity, np.ndarray):
            return [(state, capacity)]
        return list(zip(self.states().tolist(), self.capacities().tolist(), strict=True))

    def shortfalls(self) -> Floats:
        """How far each cell was measured below the voltage of an empty one, V, shape (cells,)."""
        readings = self.voltage_readings()
        if readings is None:
            return np.zeros(self.size)
        missing: Floats = np.maximum(self.curve.voltages[0] - readings, 0.0)
        return missing

    def state_edges(self) -> tuple[Floats, Floats]:
        """Least and most that each state may be, where it was read from a voltage; shape (cells,) each."""
        readings = self.voltage_readings()
        if readings is None:
            return self.states(), self.states()
        if readings.dtype == object:
            low, high = (each(readings, partial(self._edge, side)) for side in (0, 1))
            return low, high
        bands = [state_band(self.chemistry, voltage) for voltage in readings.tolist()]
        return np.array([low for low, _ in bands]), np.array([high for _, high in bands])

    def _edge(self, side: int, voltage: Column) -> Column:
        return voltage.mapped(lambda rows: [state_band(self.chemistry, row)[side] for row in rows.tolist()])

    def resolved(self, states: Floats | None = None) -> SeriesPack:
        """The pack as the cell model takes it, at its own states of charge or at those given."""
        return self._resolved if states is None else self._with(states)

    @cached_property
    def _resolved(self) -> SeriesPack:
        told = self.state_of_charge if self.voltage_readings() is None else None
        return self._with(self.states() if told is None else told)

    def _with(self, states: float | Floats) -> SeriesPack:
        figures: tuple[Any, Any, Any, Any] = states, self._capacity, self._fast, self._slow
        if all(type(figure) is float for figure in figures):
            return SeriesPack.alike(self.curve, self.size, figures, self.polarisation_time)
        parts = [self._each(figure) for figure in figures]
        kind: Any = PackColumn if any(part.dtype == object for part in parts) else SeriesPack
        made: SeriesPack = kind(self.curve, *parts, self.polarisation_time)
        return made
