"""How hard a pack may be charged, and what to say of it: the rules that charging calculators share."""

from collections.abc import Iterator, Sequence
from typing import Literal

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.limits.charge_bands import charge_part, is_too_cold
from ampstead.cell.limits.low_cells import fewer_cells, low_cell_rate
from ampstead.cell.sizing import rate_current
from ampstead.declare import Band, Caution
from ampstead.errors import FieldError
from ampstead.inputs.pack import ChemistryName, Pack
from ampstead.judging.cautions import caution
from ampstead.words import count, degrees, millivolts
from ampstead.words import rate as spoken_rate

SOURCES_OF_LIMITS = (
    "No lithium charge below 0 or above 40 degrees: NFPA, quoted by the US Fire Administration; a fifth of the "
    "current from 0 to 10 degrees: default of a published charger circuit (TI BQ25882)",
    "At most a tenth of the capacity an hour below 3.0 V a cell: a cell maker's page; none below 2.5 V: this "
    "project's own judgement",
)
SLACK = 1e-9
LEVEL = 0.02  # V between cells; common practice, no published source.
# Of the time of a real charge over the model's; this project's own judgement (balancing, ramp, leads).
TIME_LOW, TIME_HIGH, TIME_HIGH_RESISTIVE, TIME_EXTRA = 0.95, 1.05, 1.35, 900.0
RESISTIVE = 180.0  # 50 mΩ·Ah, in Ω·C.

LimitName = Literal[
    "asked-rate",
    "pack-label",
    "charger-current",
    "charger-power",
    "supply",
    "full",
    "temperature",
    "low-cell",
    "cell-count",
    "condition",
]
Limits = list[tuple[float, LimitName]]

LIMIT_WORDS: dict[LimitName, str] = {
    "asked-rate": "",
    "pack-label": ", the most its label allows",
    "charger-current": ", the most the charger gives",
    "charger-power": ", the most the charger's power allows",
    "supply": ", the most the supply allows",
    "temperature": ", a fifth of the usual because it is cold",
    "low-cell": ", no more because a cell is very low",
}
REFUSAL_WORDS: dict[LimitName, str] = {
    "full": "it is full",
    "low-cell": "a cell is below 2.5 volts",
    "cell-count": "its voltage leaves the number of cells in doubt",
}


def end_of_charge(chemistry: ChemistryName) -> float:
    """The chemistry's own end-of-charge voltage per cell."""
    return CHEMISTRIES[chemistry].end_of_charge


def end_is_allowed(chemistry: ChemistryName, end_cell_voltage: float) -> Iterator[FieldError]:
    """Nobody may charge beyond the chemistry's own voltage."""
    most = CHEMISTRIES[chemistry].end_of_charge
    if end_cell_voltage > most * (1 + SLACK):
        said = f"end_cell_voltage must be at most {most} V for {chemistry}"
        hint = "; only if the label says high voltage, ask with chemistry lihv" if chemistry == "lipo" else ""
        yield FieldError("end_cell_voltage", "out_of_range", said + hint)


def charger_limits(
    charger_current_limit: float | None,
    charger_power_limit: float | None,
    supply_limit: float | None,
    efficiency: float,
    end_voltage: float,
) -> Limits:
    """What charger and supply allow, A; power limits act at the end voltage."""
    limits: Limits = []
    if charger_current_limit is not None:
        limits.append((charger_current_limit, "charger-current"))
    if charger_power_limit is not None:
        limits.append((charger_power_limit / end_voltage, "charger-power"))
    if supply_limit is not None:
        limits.append((efficiency * supply_limit / end_voltage, "supply"))
    return limits


def allowed_current(
    pack: Pack, rate: float, max_rate: float | None, charger: Sequence[tuple[float, LimitName]], end_cell_voltage: float
) -> tuple[float, LimitName]:
    """The least of all limits, A, and its name; of equal limits the last one counts."""
    Q = pack.charge
    limits: Limits = [(rate_current(rate, Q), "asked-rate")]
    if max_rate is not None:
        limits.append((rate_current(max_rate, Q), "pack-label"))
    limits += charger
    if highest_cell(pack) >= end_cell_voltage - SLACK:
        limits.append((0.0, "full"))
    low = rate_current(low_cell_rate(pack.kind, pack.voltage_readings()), Q)
    otherwise = min(low, *(limit for limit, _ in limits))
    warmth = warmth_part(pack)
    if warmth < 1:
        limits.append((warmth * otherwise, "temperature"))
    limits.append((low, "low-cell"))
    if fewer_cells(pack.kind, pack.size, pack.rest_voltage) is not None:
        limits.append((0.0, "cell-count"))
    if pack.condition != "sound":
        limits.append((0.0, "condition"))
    return least(limits)


def least(limits: Sequence[tuple[float, LimitName]]) -> tuple[float, LimitName]:
    """The least of some limits and its name, the last of equal ones."""
    found, name = limits[0]
    for limit, of in limits[1:]:
        if limit <= found * (1 + SLACK):
            found, name = limit, of
    return found, name


def highest_cell(pack: Pack) -> float:
    """The highest resting voltage of a cell, as measured or by its state, V."""
    readings = pack.voltage_readings()
    return float(np.max(pack.curve.voltage(pack.states()) if readings is None else readings))


def warmth_part(pack: Pack) -> float:
    """The part of the current that a pack's temperature leaves."""
    return charge_part(pack.kind, pack.temperature)


def refusal(pack: Pack, limited_by: LimitName, end_cell_voltage: float) -> str:
    """Why a pack must not be charged, in words."""
    full = highest_cell(pack) >= end_cell_voltage - SLACK
    warmth = "it is full" if full else f"it is at {degrees(pack.temperature)}"
    body = "it got wet" if pack.condition == "wet" else f"it is {pack.condition}"
    return (REFUSAL_WORDS | {"temperature": warmth, "condition": body})[limited_by]


def pack_cautions(pack: Pack, rate: float, max_rate: float | None) -> Iterator[Caution]:
    """What to heed of the pack that is to be charged, the reason for a refusal first."""
    if pack.condition != "sound":
        yield caution(pack.condition)
    usual = pack.kind.usual_rate
    if max_rate is None and rate > usual * (1 + SLACK):
        yield caution("rate-above-usual", asked=spoken_rate(rate), usual=spoken_rate(usual))
    if highest_cell(pack) > pack.kind.end_of_charge + SLACK:
        yield caution("overcharged")
    if fewer := fewer_cells(pack.kind, pack.size, pack.rest_voltage):
        yield caution("cell-count", fewer=count(fewer, "cell"))
    low = low_cell_rate(pack.kind, pack.voltage_readings())
    if low < np.inf:
        yield caution("low-cell" if low else "dead-cell")
    warmth = warmth_part(pack)
    if warmth < 1:
        yield caution("cold" if warmth else "too-cold" if is_too_cold(pack.kind, pack.temperature) else "too-hot")


def spread_cautions(pack: Pack) -> Iterator[Caution]:
    """What to say of cells that were measured apart."""
    if pack.cell_voltages is not None and (spread := float(np.ptp(pack.cell_voltages))) > 0:
        yield caution("cells-differ" if spread > LEVEL + SLACK else "cells-differ-little", spread=millivolts(spread))


def time_band(shortest: float, longest: float, packs: Sequence[Pack]) -> Band:
    """How long a real charge takes, from the model's times at both edges of the states."""
    resistive = any(float(np.max(pack.ohmic() * pack.capacities())) >= RESISTIVE * (1 - SLACK) for pack in packs)
    slow = TIME_HIGH * (TIME_HIGH_RESISTIVE if resistive else 1.0)
    basis = (
        "0.95 of the time from the highest state that this voltage can mean, to "
        f"{slow:.2f} of that from the lowest, and 15 minutes for balancing and ramps; this project's own judgement"
    )
    return Band("time_total", TIME_LOW * shortest, slow * longest + TIME_EXTRA, basis)
