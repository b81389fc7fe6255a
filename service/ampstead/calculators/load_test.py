"""Resistance from loaded readings.

Over 300 lines, since readings come in two forms and all that can be wrong with them is checked here.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Annotated, Any, ClassVar

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.kinds.resistance import ACTIVATION, METHOD_BANDS, METHOD_FACTORS, temperature_ratio
from ampstead.cell.one.load_line import LoadLine, load_line, part_felt
from ampstead.declare import Band, Caution, Count, Floats, Fraction, Group, Items, OneOf, Quantity
from ampstead.errors import FieldError
from ampstead.inputs.pack import ROOM, Pack
from ampstead.inputs.shared import MOST_CURRENT, LeadResistance, MeterResolution
from ampstead.judging.cautions import VERY_COLD, Table
from ampstead.judging.cautions import caution as shared
from ampstead.judging.doubts import error as in_doubt
from ampstead.sketch import Chart, Panel
from ampstead.words import degrees, milliohms, millivolts, number, percent, sentences, span

ASKED = "What is this pack's resistance?"
WHEN = ("at the bench", 10)
MAIN = ("pack_resistance", "cell_resistances")
SOURCES = (
    "Resistance from two currents: the method of IEC 61960 (0.2 It for 10 s, then 1.0 It for 1 s), as quoted by "
    "others, not read in full; OpenStax University Physics vol. 2, ch. 10.1",
    "More than two readings: least squares with its standard error, 95 percent by Student's t",
    "Resistance against temperature: 20 kJ/mol, general lithium-ion, published tables 15 to 25 (shipped by simses 1.3, "
    "BSD-3)",
    "Readings of unequal duration, and how much less a fast reading shows: this project's own judgement",
)
MOST_ROWS = 1000
EXAMPLES = (
    {"currents": "4,48 A", "voltages": "16.30,15.17 V", "temperature": "13 °C"},
    {
        "readings": [
            {"current": "2 A", "cell_voltages": "4.09,4.09,4.08 V", "duration": "10 s"},
            {"current": "12 A", "cell_voltages": "3.99,3.98,3.93 V", "duration": "10 s"},
            {"current": "23 A", "cell_voltages": "3.88,3.87,3.76 V", "duration": "10 s"},
        ],
        "meter_resolution": "5 mV",
    },
)

STANDARD = (10.0, 1.0)
"""s, at the lower and at the higher current: IEC 61960, quoted."""
SHORT = 3.0
"""s up to which a reading counts as the 1s method. This project's own judgement."""
LEAST_STEP = 1e-6
"""A between the lowest and the highest current, below which they count as equal."""
COARSE = 0.1
"""Part of the figure that the meter may leave open. This project's own judgement."""
SCATTER = 0.25
"""The same for the readings' scatter. This project's own judgement."""
UNLIKE = 1.5
"""Times the median from which a cell stands out. This project's own judgement."""
SLACK = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """The pack under one current."""

    current: Annotated[
        float,
        Quantity(
            "A",
            "Current drawn; 0 at rest, below zero where it charges.",
            at_least=f"-{MOST_CURRENT}",
            at_most=MOST_CURRENT,
            example="23 A",
        ),
    ]
    voltage: Annotated[
        float | None, Quantity("V", "Voltage of the whole pack then.", at_least=0, at_most="1 kV", example="15.17 V")
    ] = None
    cell_voltages: Annotated[
        Floats | None,
        Quantity("V", "Voltage of each cell then, in place of the pack's.", at_least=0, example="3.88,3.87,3.76 V"),
    ] = None
    duration: Annotated[
        float | None,
        Quantity("s", "How long this current had flowed.", at_least=0, at_most="3600 s", example="10 s"),
    ] = None

    RULES: ClassVar = (OneOf("voltage", "cell_voltages", required=True, asked="What did it read?"),)


def enough_readings(readings: Sequence[Any] | None, currents: Floats | None) -> Iterator[FieldError]:
    """Two at least, at currents that differ."""
    name, values = ("readings", [entry.value.current for entry in readings]) if readings else ("currents", currents)
    if values is None:
        return
    if len(values) < 2:
        said = f"{name} needs two readings or more, at currents that differ, like 5 A and 20 A"
        yield FieldError(name, "wrong_length", said)
    elif np.ptp(values) <= max(LEAST_STEP, SLACK * float(np.max(np.abs(values)))):
        what = "readings must differ in current" if readings else "currents must differ"
        said = f"{what}: equal currents tell nothing of the resistance; try 5 A and 20 A"
        yield FieldError(name, "out_of_range", said)


def lists_go_together(
    readings: Sequence[Any] | None, currents: Floats | None, voltages: Floats | None
) -> Iterator[FieldError]:
    """One voltage to each current."""
    if currents is None:
        if readings and voltages is not None:
            said = "readings and voltages cannot be given together: voltages go with currents"
            for name in ("readings", "voltages"):
                yield FieldError(name, "conflict", said)
        return
    if voltages is None:
        if not readings:
            said = 'voltages is missing: one for each of the currents, like "16.40,15.17 V"'
            yield FieldError("voltages", "missing", said)
    elif len(currents) != len(voltages):
        said = f"currents has {len(currents)} values but voltages has {len(voltages)}: give one voltage per current"
        for name in ("currents", "voltages"):
            yield FieldError(name, "wrong_length", said)


def readings_alike(readings: Sequence[Any] | None) -> Iterator[FieldError]:
    """All of the pack, or all of the same cells."""
    if not readings:
        return
    most = max(kind.most_cells for kind in CHEMISTRIES.values())
    first = readings[0].value.cell_voltages
    for place, entry in enumerate(readings):
        cells = entry.value.cell_voltages
        if (cells is None) != (first is None):
            field = f"readings[{place}].{'voltage' if cells is None else 'cell_voltages'}"
            said = "unlike the first of the readings: give the voltage in all of them, or the cell_voltages in all"
            yield FieldError(field, "conflict", f"{field} is {said}")
        elif cells is not None and first is not None and len(cells) != len(first):
            field = f"readings[{place}].cell_voltages"
            said = f"{field} has {len(cells)} values but the first of the readings has {len(first)}: give one per cell"
            yield FieldError(field, "wrong_length", said)
        elif cells is not None and len(cells) > most:
            field = f"readings[{place}].cell_voltages"
            yield FieldError(field, "wrong_length", f"{field} has {len(cells)} values: a pack has at most {most} cells")


RULES = (OneOf("currents", "readings", required=True, asked="What did you measure?"),)
CHECKS = (enough_readings, lists_go_together, readings_alike)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadTest:
    pack_resistance: Annotated[
        float | None,
        Quantity(
            "mΩ", "Resistance of the pack at its temperature, leads taken off; none where the readings leave it none."
        ),
    ]
    cell_resistances: Annotated[
        Floats | None,
        Quantity("mΩ", "Resistance of each cell; none without the cells' voltages, or where they leave a cell none."),
    ] = None
    rest_voltage: Annotated[
        float | None,
        Quantity("V", "Voltage at no current, by the line through the readings; none without a resistance."),
    ]
    standard_error: Annotated[
        float | None, Quantity("mΩ", "Standard error of the pack's resistance; none for two readings.", spoken="up")
    ] = None
    resistance_at_25C: Annotated[  # noqa: N815
        float | None, Quantity("mΩ", "The pack's resistance converted to 25 °C; none likewise.")
    ]
    weakest_cell: Annotated[
        int | None, Count("Cell with the highest resistance, from 1; none without the cells' resistances.")
    ] = None


def load_test(
    *,
    readings: Annotated[
        list[Reading] | None, Items("Readings under two currents or more; by POST only, else currents and voltages.")
    ] = None,
    currents: Annotated[
        Floats | None,
        Quantity(
            "A",
            "Currents drawn, two or more; 0 at rest, below zero where it charges.",
            at_least=f"-{MOST_CURRENT}",
            at_most=MOST_CURRENT,
            example="4,48 A",
        ),
    ] = None,
    voltages: Annotated[
        Floats | None,
        Quantity("V", "Voltage of the pack under each of them.", at_least=0, at_most="1 kV", example="16.30,15.17 V"),
    ] = None,
    lead_resistance: LeadResistance = 0.0,
    pack: Annotated[Pack, Group(name="pack", only=("temperature",))],
    meter_resolution: MeterResolution = 0.01,
    current_error: Annotated[
        float,
        Fraction(
            "Part by which the ammeter may be off, alike in all readings.",
            at_least=0,
            at_most=0.5,
            example=0.03,
            aside=True,
        ),
    ] = 0.03,
) -> LoadTest:
    """A pack's resistance from its voltage under two currents or more.

    The voltage falls along a straight line as the current rises, by least squares through the readings
    ( two readings make it exact):

        V    = U_rest - (R + R_lead) * I                               (1)
        R    = (V_1 - V_2) / (I_2 - I_1) - R_lead for two readings     (2)
        R_25 = R / exp(Ea / Rg * (1 / T - 1 / 298.15 K))               (3)

    Discharge current is positive. The standard method takes 0.2 It for 10 s, then 1.0 It for 1 s. Cell voltages are
    read at the balance plug, before the leads, which are then not taken off. Range: the charge hardly changes between
    the readings. A voltage that does not fall as the current rises leaves no resistance: the readings are wrong then,
    or their leads, and nothing is told. An ammeter off by 3 percent (usual are 2 to 5, common practice) errs alike in
    every reading, and the resistance by as much.
    """
    taken = Taken.of(readings, currents, voltages)
    line = taken.line()
    R = line.resistance - (0.0 if taken.cells is not None else lead_resistance)  # Eq. (1)
    if R <= 0 or line.rest_voltage <= 0:
        return LoadTest(pack_resistance=None, rest_voltage=None, resistance_at_25C=None)
    each = None if taken.cells is None else np.array([line.resistance for line in taken.cell_lines()])
    if each is not None and np.any(each <= 0):
        each = None
    return LoadTest(
        pack_resistance=R,
        cell_resistances=each,
        rest_voltage=line.rest_voltage,
        standard_error=line.resistance_error,
        resistance_at_25C=R / float(temperature_ratio(pack.temperature)),  # Eq. (3)
        weakest_cell=None if each is None else int(np.argmax(each)) + 1,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """The readings, however they were sent. A, V, s."""

    currents: Floats
    voltages: Floats
    """Of the pack; the sum of its cells where those were read."""
    cells: Floats | None
    """Shape (readings, cells)."""
    durations: Floats | None

    @classmethod
    def of(cls, readings: list[Reading] | None, currents: Floats | None, voltages: Floats | None) -> "Taken":
        """From nested readings, or from lists."""
        if not readings:
            assert currents is not None
            assert voltages is not None
            return cls(currents=currents, voltages=voltages, cells=None, durations=None)
        each = [reading.cell_voltages for reading in readings if reading.cell_voltages is not None]
        cells = np.array(each) if each else None
        whole = [reading.voltage for reading in readings if reading.voltage is not None]
        lasted = [reading.duration for reading in readings if reading.duration is not None]
        return cls(
            currents=np.array([reading.current for reading in readings]),
            voltages=np.array(whole) if cells is None else np.sum(cells, axis=1),
            cells=cells,
            durations=np.array(lasted) if len(lasted) == len(readings) else None,
        )

    def line(self) -> LoadLine:
        """The pack's."""
        return load_line(self.currents, self.voltages)

    def cell_lines(self) -> list[LoadLine]:
        """Each cell's."""
        return [] if self.cells is None else [load_line(self.currents, column) for column in self.cells.T]

    def reading_error(self, meter_resolution: float) -> float:
        """By how much a reading of the pack may be off, V: half a step, for each cell that was read."""
        return meter_resolution / 2 * (1 if self.cells is None else self.cells.shape[1])

    @property
    def unequal(self) -> bool:
        """Whether the readings lasted unlike times, and not those of the standard method."""
        if self.durations is None or np.ptp(self.durations) <= SLACK:
            return False
        order = np.argsort(self.currents)
        return len(order) != 2 or not np.allclose(self.durations[order], STANDARD)

    @property
    def method(self) -> str | None:
        """What the other calculators call a resistance of this kind; None where it is like neither."""
        if self.durations is None or self.unequal:
            return None
        lasted = float(self.durations[int(np.argmax(self.currents))])
        if not 0.5 <= lasted <= 3 * STANDARD[0]:
            return None
        return "1s" if lasted <= SHORT else "10s"


def sentence(
    answer: LoadTest, *, pack: Pack, lead_resistance: float, bands: dict[str, Band], readings: list[Reading] | None
) -> str:
    """The answer as spoken."""
    if answer.pack_resistance is None or answer.resistance_at_25C is None:
        return (
            "Check the readings: they give this pack no resistance, and every pack has some. Its voltage must fall as "
            "the current rises, by more than the leads take."
        )
    band = bands["pack_resistance"]
    off = "" if answer.cell_resistances is not None or lead_resistance == 0 else ", the leads taken off"
    warm = ""
    if abs(pack.temperature - ROOM) > 0.5:
        warm = f"; at 25 degrees that would be about {milliohms(answer.resistance_at_25C)}"
    sure = span(max(band.low, 0), band.high, milliohms)
    start = (
        f"This pack has a resistance of {milliohms(answer.pack_resistance)}{off}, somewhere from {sure}, "
        f"taken at {degrees(pack.temperature)}{warm}."
    )
    if answer.cell_resistances is None or answer.weakest_cell is None or len(answer.cell_resistances) == 1:
        return start
    highest = float(answer.cell_resistances[answer.weakest_cell - 1])
    return sentences(start, f"Its weakest cell, number {answer.weakest_cell}, has {milliohms(highest)}.")


OWN_CAUTIONS: Table = {
    # The method of IEC 61960: 0.2 It for 10 s, then 1.0 It for 1 s (quoted by others, not read in full).
    "fast-reading": (
        "note",
        "A reading at 1 kilohertz or within milliseconds is smaller, since the slow part of the resistance is not in "
        "it: expect ten seconds of load to show about {times} times as much, or {least} to {most} times.",
    ),
    "reading-as-method": ("note", "To the other calculators this is a resistance of the method {method}."),
    "unequal-durations": (
        "note",
        "The readings lasted unlike times, so that the slow part of the resistance is in them unequally: no published "
        "standard covers that, and the band is widened by this project's own judgement.",
    ),
    "reading-at-rest": (
        "note",
        "A reading without load takes in what the first light load costs: the standard method compares a light load "
        "with a heavy one.",
    ),
    "check-readings": (
        "warning",
        "Every pack's voltage falls as more current is drawn: check the readings, their order and the leads.",
    ),
    "leads-too-large": (
        "warning",
        "The leads are said to have more resistance than was found in all: check their figure and the readings.",
    ),
    "leads-not-counted": (
        "note",
        "The lead resistance was not taken off: voltages of the cells at the balance plug are before the leads.",
    ),
    "coarse-meter": (
        "warning",
        "The meter's steps of {step} alone leave {share} of this figure open: use a finer meter, or currents that lie "
        "further apart.",
    ),
    "scattered-readings": (
        "warning",
        "The readings scatter about the line: was the pack resting, cooling or emptying between them?",
    ),
    "short-load": (
        "note",
        "Load only a sound pack, for as short as the reading takes, and stop if it warms or a cell falls to its floor.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"fast-reading", "reading-as-method", "short-load"})


def cautions(
    answer: LoadTest,
    *,
    pack: Pack,
    readings: list[Reading] | None,
    currents: Floats | None,
    voltages: Floats | None,
    lead_resistance: float,
    meter_resolution: float,
) -> Iterator[Caution]:
    """What to heed."""
    taken = Taken.of(readings, currents, voltages)
    line, each, lines = taken.line(), answer.cell_resistances, taken.cell_lines()
    if line.resistance <= 0 or line.rest_voltage <= 0 or (lines and each is None):
        yield caution("check-readings")
    elif answer.pack_resistance is None:
        yield caution("leads-too-large")
    errors = [cell.resistance_reach * meter_resolution / 2 for cell in lines]
    figures = [abs(cell.resistance) for cell in lines]
    if not lines:
        found = line.resistance if answer.pack_resistance is None else answer.pack_resistance
        errors, figures = [line.resistance_reach * meter_resolution / 2], [abs(found)]
    open_part = max(error / figure if figure else np.inf for error, figure in zip(errors, figures, strict=True))
    if open_part > COARSE + SLACK:
        share = "all" if open_part >= 1 else f"up to {percent(open_part)}"
        yield caution("coarse-meter", step=millivolts(meter_resolution), share=share)
    if line.resistance_error is not None and line.spread * line.resistance_error > SCATTER * abs(line.resistance):
        yield caution("scattered-readings")
    if each is not None and len(each) > 1:
        ratio = float(np.max(each) / median(each.tolist()))
        if ratio >= UNLIKE - SLACK:
            yield caution("unlike-cells", cell=answer.weakest_cell, ratio=number(ratio, 2))
    if pack.temperature < VERY_COLD:
        yield caution("very-cold")
    if lines and lead_resistance > 0:
        yield caution("leads-not-counted")
    if taken.unequal:
        yield caution("unequal-durations")
    if np.any(taken.currents == 0):
        yield caution("reading-at-rest")
    yield caution("short-load")
    fast = [1 / METHOD_FACTORS["10s"] * factor for factor in (METHOD_FACTORS["1kHz"], *METHOD_BANDS["1kHz"])]
    yield caution("fast-reading", times=number(fast[0], 2), least=number(fast[1], 2), most=number(fast[2], 2))
    if taken.method:
        yield caution("reading-as-method", method=taken.method)


def accuracy(
    answer: LoadTest,
    *,
    pack: Pack,
    readings: list[Reading] | None,
    currents: Floats | None,
    voltages: Floats | None,
    lead_resistance: float,
    meter_resolution: float,
    current_error: float,
) -> Iterator[Band]:
    """How sure the resistance is: by the meter, by the fit, by unequal durations and by temperature."""
    if answer.pack_resistance is None or answer.rest_voltage is None:
        return
    taken = Taken.of(readings, currents, voltages)
    line, error = taken.line(), taken.reading_error(meter_resolution)
    half, off = line.resistance_limits(error), line.resistance - answer.pack_resistance
    low = line.resistance / (1 + current_error) - off - half
    high = line.resistance / (1 - current_error) - off + half
    basis = f"half a step of the voltmeter in each reading, an ammeter off by {percent(current_error)}"
    if line.resistance_error is not None:
        basis += ", and the scatter about the line (95 percent)"
    if taken.unequal:
        assert taken.durations is not None
        # As if each current had been felt through the part of the resistance that had appeared by then.
        felt = part_felt(taken.durations)
        fast = load_line(taken.currents * felt, taken.voltages).resistance
        low = min(low, fast * float(np.min(felt)) - off - half)
        high = max(high, fast * float(np.max(felt)) - off + half)
        basis += "; the slow part of the resistance appears unequally in readings of unlike duration (own judgement)"
    low = max(low, 0.0)
    yield Band("pack_resistance", low, high, basis)
    energies = [ACTIVATION * part for part in in_doubt("activation")]
    ratios = [1 / float(temperature_ratio(pack.temperature, activation=energy)) for energy in energies]
    ends = [edge * ratio for edge in (low, high) for ratio in ratios]
    warm = "and 15 to 25 kJ/mol, as published tables of general lithium-ion cells have it"
    yield Band("resistance_at_25C", min(ends), max(ends), f"{basis}; {warm}")
    rest = line.rest_limits(error)
    yield Band("rest_voltage", max(answer.rest_voltage - rest, 0.0), answer.rest_voltage + rest, basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineTable:
    current: Annotated[Floats, Quantity("A", "Current drawn.")]
    voltage: Annotated[Floats, Quantity("V", "Voltage read; the sum of the cells where those were read.")]
    line_voltage: Annotated[Floats, Quantity("V", "Voltage on the line through the readings.")]


def curve(
    answer: LoadTest, *, readings: list[Reading] | None, currents: Floats | None, voltages: Floats | None
) -> LineTable:
    """The readings by rising current, and the line through them."""
    taken = Taken.of(readings, currents, voltages)
    order, line = np.argsort(taken.currents, kind="stable"), taken.line()
    I = taken.currents[order]
    return LineTable(current=I, voltage=taken.voltages[order], line_voltage=line.rest_voltage - line.resistance * I)


def picture(answer: LoadTest) -> Chart:
    """Voltage against current, as read and on the line."""
    R = answer.pack_resistance
    return Chart(
        title="Voltage against current" + ("" if R is None else f": {R * 1000:.3g} mΩ"),
        x="current",
        panels=(Panel({"voltage": "as read", "line_voltage": "line"}, points=("voltage",)),),
    )
