"""The most current this pack should give, from its resistance.

Over 300 lines, since a calculator is one file, with its cautions, its curve and its picture.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf
from statistics import median
from typing import Annotated, Literal

import numpy as np

from ampstead.cell.one.heat import end_temperature
from ampstead.cell.sizing import current_rate, rate_current
from ampstead.declare import (
    Band,
    Caution,
    Choice,
    Count,
    Floats,
    Fraction,
    Group,
    OneOf,
    Quantity,
    Rate,
    derived,
)
from ampstead.inputs.pack import Pack, has_curve
from ampstead.inputs.shared import Floor, usual_floor
from ampstead.inputs.warming import Thermal
from ampstead.judging.bands import Resisting, band_over, model_edges, model_error, resisting
from ampstead.judging.cautions import caution
from ampstead.judging.doubts import error
from ampstead.judging.drawing import BURST, DEPTH, MARGIN, DrawLimits, draw_limits
from ampstead.judging.flying import air_cautions, flying_cautions
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import amperes, degrees, duration, number, percent, rate, volts

ASKED = "How much current may I draw from this pack?"
WHEN = ("at the bench", 80)
MAIN = ("continuous_current", "burst_current")
SOURCES = (
    "Heat balance of a cell with one RC pair, solved in closed form; compared with the library thevenin 0.2.1",
    "Specific heat 1000 J/kgK: published stack values 953 (Ai et al. 2020) and 1069 (Ecker et al. 2015)",
    "Reversible heat of lipo and lihv: mean of the entropy curve of Ai et al. 2020 from full to 20 percent",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3)",
    "A limit on draw from measured resistance, and the margin on it: this project's own judgement; no standard "
    "gives one. 80 percent used in a flight and 60 degrees: common practice, no published source",
)
MOST_ROWS = 1000
EXAMPLES = (
    {"cells": 3, "capacity": "1150 mAh", "cell_resistance": "11 mΩ"},
    {"cells": 6, "capacity": "4900 mAh", "cell_resistance": "2.6 mΩ", "label_rate": "40C", "temperature": "33 °C"},
)
RULES = (OneOf("cell_resistance", "pack_resistance", required=True, asked="What is its resistance?"),)
CHECKS = (has_curve,)

UNLIKE = 1.25
CURVE_POINTS, CURVE_REACH = 80, 1.1
SLACK = 1e-9

LimitName = Literal["heat", "voltage", "label"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SafeDraw:
    continuous_current: Annotated[float, Quantity("A", "Most current for a whole flight, margin kept.", spoken="down")]
    burst_current: Annotated[
        float, Quantity("A", "Most current for a burst late in the flight, margin kept.", spoken="down")
    ]
    continuous_rate: Annotated[
        float, Rate("The continuous current in multiples of the capacity per hour.", spoken="down")
    ]
    burst_rate: Annotated[float, Rate("The burst current in multiples of the capacity per hour.", spoken="down")]
    continuous_limited_by: Annotated[
        LimitName, Choice("What sets the continuous current.", label="continuous current limited by")
    ]
    burst_limited_by: Annotated[LimitName, Choice("What sets the burst current.", label="burst current limited by")]
    current_limit_by_heat: Annotated[
        float, Quantity("A", "Current whose flight from full ends at the limit temperature.", spoken="down")
    ]
    current_limit_by_voltage: Annotated[
        float,
        Quantity("A", "Current that brings the weakest cell to its floor at the end of the flight.", spoken="down"),
    ]
    current_limit_by_label: Annotated[
        float | None, Quantity("A", "Current of the label's rate; none without it.", spoken="down")
    ]
    burst_limit_by_voltage: Annotated[
        float, Quantity("A", "Current that brings the weakest cell to its floor at the end of a burst.", spoken="down")
    ]
    burst_limit_by_heat: Annotated[
        float, Quantity("A", "Current whose burst ends at the limit temperature.", spoken="down")
    ]
    weakest_cell: Annotated[int, Count("Cell that meets its floor first, from 1.")]
    loaded_voltage: Annotated[
        float, Quantity("V", "Voltage of the pack at the continuous current, at the end of the flight.", spoken="down")
    ]
    end_temperature: Annotated[float, Quantity("°C", "Temperature of the warmest cell then.", spoken="up")]


def safe_draw(
    *,
    pack: Annotated[
        Pack,
        Group(
            name="pack",
            omit=("state_of_charge", "rest_voltage", "cell_voltages", "condition"),
            require=("cells", "capacity"),
            defaults={"cell_resistance": None},
        ),
    ],
    label_rate: Annotated[float | None, Rate("Discharge rate on the label.", above=0, at_most=1000, example=40)] = None,
    floor: Floor = derived(usual_floor, "the chemistry's usual floor under load"),
    depth: Annotated[
        float,
        Fraction(
            "Part of the capacity used in a flight.",
            above=0,
            at_most=1,
            example=0.8,
            label="part of the capacity used in a flight",
        ),
    ] = DEPTH,
    burst_duration: Annotated[
        float, Quantity("s", "Length of a burst.", above=0, at_most="600 s", example="10 s")
    ] = BURST,
    thermal: Annotated[Thermal, Group(name="thermal", whole=False)],
    margin: Annotated[
        float,
        Fraction(
            "Part of the limit to use.", above=0, at_most=1, example=0.8, label="part of the limit to use", aside=True
        ),
    ] = MARGIN,
) -> SafeDraw:
    """The most current a pack should give, over a whole flight and in a burst.

    Over a flight from full that uses ``depth`` of the capacity, and in a burst of ``burst_duration`` begun at its
    end, the current is limited by heat, by the voltage of the weakest cell and by the label
    with the thermal and voltage limits that pack-fitness shares:

        continuous = margin * min(heat, voltage, label)                             (1)
        burst      = margin * min(burst voltage, burst heat, label)                 (2)

    The burst begins where a flight at the continuous current ends: at its temperature, and with the slow part of the
    resistance as that flight has left it. Discharge current is positive. The resistance is held at its value at the
    start: it falls as the cell warms, and that stays as margin; in air so cold that the cell cools, it counts as at
    the end. Range: steady current, no airflow unless ``cooling`` is given.
    """
    Q = pack.charge
    label = None if label_rate is None else rate_current(label_rate, Q)
    limits = draw_limits(
        pack,
        thermal,
        floor=floor,
        depth=depth,
        burst_duration=burst_duration,
        margin=margin,
        label=inf if label is None else label,
    )
    by_voltage = float(np.min(limits.voltage))
    least, limited_by = lowest(limits.heat, by_voltage, label)
    burst_least, burst_limited_by = lowest(limits.burst_heat, limits.burst_voltage, label)
    I = margin * least  # Eq. (1)
    burst = margin * burst_least  # Eq. (2)
    late = limits.late
    loaded = late.rest_voltages - I * (late.ohmic + late.polarisation)
    return SafeDraw(
        continuous_current=I,
        burst_current=burst,
        continuous_rate=current_rate(I, Q),
        burst_rate=current_rate(burst, Q),
        continuous_limited_by=limited_by,
        burst_limited_by=burst_limited_by,
        current_limit_by_heat=limits.heat,
        current_limit_by_voltage=by_voltage,
        current_limit_by_label=label,
        burst_limit_by_voltage=limits.burst_voltage,
        burst_limit_by_heat=limits.burst_heat,
        weakest_cell=limits.weakest_cell,
        loaded_voltage=float(np.sum(loaded)),
        end_temperature=limits.landing,
    )


def lowest(heat: float, voltage: float, label: float | None) -> tuple[float, LimitName]:
    """The least limit and its name; of equal ones the last counts."""
    limits: list[tuple[float, LimitName]] = [(heat, "heat"), (voltage, "voltage")]
    if label is not None:
        limits.append((label, "label"))
    least, name = limits[0]
    for limit, of in limits[1:]:
        if limit <= least * (1 + SLACK):
            least, name = limit, of
    return least, name


def sentence(answer: SafeDraw, *, pack: Pack, depth: float, burst_duration: float, thermal: Thermal) -> str:
    """The answer as spoken."""
    named = f"this {pack.kind.words} pack"
    if answer.continuous_current == 0:
        if answer.continuous_limited_by == "heat":
            limit = degrees(thermal.limit_temperature)
            return (
                f"Draw nothing from {named}: from {degrees(pack.temperature)} any flight would bring it past {limit}."
            )
        return f"Draw nothing from {named}: a flight that uses {percent(depth)} ends below the floor of a cell."
    why = {
        "heat": f"heat, which would bring it to {degrees(thermal.limit_temperature)}",
        "voltage": "the voltage of its weakest cell",
        "label": "its label",
    }[answer.continuous_limited_by]
    most, burst = amperes(answer.continuous_current, "down"), amperes(answer.burst_current, "down")
    landing = f"{volts(answer.loaded_voltage, 'down')} and {degrees(answer.end_temperature, 'up')}"
    more = f"and {burst} for {duration(burst_duration)} at its end"
    if answer.burst_current == 0:
        more = "with nothing left for a burst at its end"
    return (
        f"Draw at most {most} from {named} over a flight that uses {percent(depth)}, {more}; the limit is {why}. "
        f"It then lands at {landing}, taken from "
        f"{degrees(pack.temperature)} {'with the cooling told' if thermal.cooling else 'without airflow'}."
    )


def cautions(answer: SafeDraw, *, pack: Pack, thermal: Thermal, given: frozenset[str]) -> Iterator[Caution]:
    """What to heed."""
    if answer.current_limit_by_heat == 0:
        yield caution("hot-start")
    ohmic = pack.ohmic()
    highest = int(np.argmax(ohmic))
    ratio = float(ohmic[highest] / median(ohmic.tolist()))
    if ratio >= UNLIKE - SLACK:
        yield caution("unlike-cells", cell=highest + 1, ratio=number(ratio, 2))
    yield caution("steady-draw")
    yield from flying_cautions(pack, given)
    yield from air_cautions(pack, thermal)
    yield caution("short-burst")


def accuracy(
    answer: SafeDraw,
    *,
    pack: Pack,
    label_rate: float | None,
    floor: float,
    depth: float,
    burst_duration: float,
    thermal: Thermal,
    margin: float,
    given: frozenset[str],
) -> Iterator[Band]:
    """How sure the currents are: the same limits with the least and the most of the resistance."""
    least, most = resisting(pack, given, model_edges(answer.continuous_rate))
    label = inf if label_rate is None else rate_current(label_rate, pack.charge)

    def limits(edge: Resisting) -> DrawLimits:
        return draw_limits(
            pack,
            thermal,
            floor=floor,
            depth=depth,
            burst_duration=burst_duration,
            margin=margin,
            label=label,
            resisting=edge,
        )

    edges = limits(most), limits(least)
    off = f"{model_error(answer.continuous_rate) * 100:.0f} percent at {rate(answer.continuous_rate)}"
    basis = (
        f"the limits at {least.ohmic:.2g} to {most.ohmic:.2g} times the resistance: its origin, and a "
        f"constant resistance errs by about {off}; this "
        "project's own judgement, no standard gives a limit on draw from resistance"
    )
    yield band_over("continuous_current", answer.continuous_current, [edge.flown for edge in edges], basis)
    parts, origin = error("burst_current"), resisting(pack, given)
    burst = [margin * min(limits(edge).burst, label) * part for edge, part in zip(reversed(origin), parts, strict=True)]
    burst_basis = "for bursts a constant resistance is good to about 40 percent; this project's own judgement"
    yield band_over("burst_current", answer.burst_current, burst, burst_basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawCurve:
    current: Annotated[Floats, Quantity("A", "Current drawn over the whole flight.")]
    voltage: Annotated[Floats, Quantity("V", "Voltage of the pack at the end of the flight, under load.")]
    weakest_cell_voltage: Annotated[Floats, Quantity("V", "Voltage of the weakest cell then.")]
    end_temperature: Annotated[Floats, Quantity("°C", "Temperature of the warmest cell then.")]


def curve(
    answer: SafeDraw,
    *,
    pack: Pack,
    depth: float,
    thermal: Thermal,
) -> DrawCurve:
    """Voltage and temperature at the end of a flight, against the current drawn in it."""
    most = max(answer.current_limit_by_heat, answer.current_limit_by_voltage, answer.current_limit_by_label or 0.0)
    currents = np.linspace(0, CURVE_REACH * most, CURVE_POINTS + 1)[1:]
    late = pack.resolved(1 - depth * pack.charge / pack.capacities())
    each = late.rest_voltages - currents[:, None] * (late.ohmic + late.polarisation)
    times = depth * pack.charge / currents
    cells = thermal.cells(pack)
    return DrawCurve(
        current=currents,
        voltage=np.sum(each, axis=1),
        weakest_cell_voltage=np.min(each, axis=1),
        end_temperature=np.max([end_temperature(current=currents, time=times, **cell) for cell in cells], axis=0),
    )


def picture(answer: SafeDraw, *, floor: float, thermal: Thermal) -> Chart:
    """Weakest cell and temperature against current, with the limits and the current advised."""
    limit = thermal.limit_temperature
    most = number(answer.continuous_current, 3, "down")
    advised = Limit(answer.continuous_current, f"at most {most} A", upright=True)
    return Chart(
        title="What a whole flight does",
        x="current",
        panels=(
            Panel({"weakest_cell_voltage": ""}, (Limit(floor, f"floor {floor:.3g} V"), advised)),
            Panel(
                {"end_temperature": ""},
                (Limit(limit, f"limit {limit - 273.15:.3g} °C"), advised),
            ),
        ),
    )
