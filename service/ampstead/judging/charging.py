"""May this pack be charged, at what current, to what voltage, under which cautions: the one verdict of all calculators.

Each rule stands here once; calculators, joins of packs and whatever plans charges ask ``charge_verdict``.
Over 300 lines, so that all that may limit a charge is read on one page.
"""

from collections.abc import Iterator, Sequence
from math import inf
from typing import Literal, NamedTuple

from ampstead.cell.kinds.chemistries import CHEMISTRIES, Chemistry
from ampstead.cell.limits.charge_bands import (
    STOP_TEMPERATURE,
    charge_part,
    charge_voltage,
    is_cool,
    is_too_cold,
    is_too_hot,
    may_be_frozen,
)
from ampstead.cell.limits.low_cells import fewer_cells, low_cell_rate
from ampstead.cell.one.series import SeriesPack
from ampstead.cell.sizing import HOUR, current_rate, rate_current
from ampstead.declare import Band, Caution
from ampstead.errors import FieldError
from ampstead.inputs.pack import ChemistryName, Condition, Pack
from ampstead.judging.bands import Resisting, resistance_factors
from ampstead.judging.cautions import VERY_COLD, caution, cells_differ
from ampstead.judging.cells import is_suspect, suspect_cautions, suspect_words, taken_for_life
from ampstead.judging.doubts import error
from ampstead.judging.overfull import highest_cell, is_overfull, overfull_cautions
from ampstead.words import count, degrees, millivolts, volts
from ampstead.words import rate as spoken_rate

SOURCES_OF_LIMITS = (
    "No lithium charge below 0 or above 40 degrees: NFPA, quoted by the US Fire Administration; a fifth of the usual "
    "current from 0 to 10 degrees: default of a published charger circuit (TI BQ25882); 4.10 instead of 4.20 volts "
    "there: a Japanese guideline as told by TI. Bands of other kinds: common practice, from memory",
    "At most a tenth of the capacity an hour below 3.0 V a cell: a cell maker's page; none below 2.5 V, half a volt "
    "less for lithium-iron-phosphate, and a fifth with a cell that stands out: this project's own judgement",
)
SLACK = 1e-9
LEVEL = 0.02  # V between cells; common practice, no published source.
SUSPECT_RATE = 0.2
"""Most of the capacity an hour with a cell that stands out. This project's own judgement."""
LARGEST_LABEL = 10.0
"""Charge rate above which a label was probably read at its discharge rate. This project's own judgement."""
# From there on the model's time is too short: comparison with full electrochemical models, made for this project.
RESISTIVE = 180.0  # 50 mΩ·Ah, in Ω·C.

# In the order that counts where limits are equal: the last that holds is named.
LimitName = Literal[
    "asked-rate",
    "pack-label",
    "charger-current",
    "charger-power",
    "supply",
    "full",
    "temperature",
    "suspect-cell",
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
    "suspect-cell": ", no more because a cell stands out",
    "low-cell": ", no more because a cell is very low",
}


class Verdict(NamedTuple):
    """What may be done: a current of 0 means that the pack must not be charged."""

    current: float
    """A; of a pack whose capacity is not known that of one ampere hour."""
    rate: float
    limited_by: LimitName
    end_cell_voltage: float
    """At most, V."""
    stop_temperature: float
    because: str
    """What sets the current, in words: why not, or the end of a sentence that says how much."""
    cautions: tuple[Caution, ...]

    @property
    def refused(self) -> bool:
        """Whether the pack must not be charged."""
        return self.current <= 0


def charge_verdict(
    pack: Pack,
    rate: float,
    max_rate: float | None = None,
    charger: Sequence[tuple[float, LimitName]] = (),
    end_cell_voltage: float | None = None,
    *,
    beside_full: bool = False,
) -> Verdict:
    """The verdict on a charge at an asked rate: the least of all limits, of equal ones the last.

    ``charger`` holds what charger and supply allow, A, at ``allowed_end``. A state that is not known counts as none,
    and so does a full one where ``beside_full``: packs that are joined take charge from each other near full.
    """
    Q = HOUR if pack.capacity is None else pack.charge
    end = allowed_end(pack, end_cell_voltage)
    limits: Limits = [(rate_current(rate, Q), "asked-rate")]
    if max_rate is not None:
        limits.append((rate_current(max_rate, Q), "pack-label"))
    limits += charger
    if not beside_full and highest_cell(pack) >= end - SLACK:
        limits.append((0.0, "full"))
    limits += [(rate_current(limit, Q), name) for limit, name in _own_limits(pack)]
    current, limited_by = least(limits)
    return Verdict(
        current=current,
        rate=current_rate(current, Q),
        limited_by=limited_by,
        end_cell_voltage=end,
        stop_temperature=STOP_TEMPERATURE,
        because=_because(pack, limited_by) if current > 0 else _refusal(pack, limited_by),
        cautions=tuple(pack_cautions(pack, rate, max_rate)),
    )


def _own_limits(pack: Pack) -> Iterator[tuple[float, LimitName]]:
    """Rates to which the pack itself limits any charge, in the order of their names."""
    kind, readings = pack.kind, pack.voltage_readings()
    part = charge_part(kind, pack.temperature)
    if part < 1:
        yield part * kind.usual_rate, "temperature"
    if readings is not None:
        if is_suspect(pack):
            yield SUSPECT_RATE, "suspect-cell"
        if (low := low_cell_rate(kind, readings)) < inf:
            yield low, "low-cell"
        if pack.rest_voltage is not None and fewer_cells(kind, pack.size, pack.rest_voltage) is not None:
            yield 0.0, "cell-count"
    if pack.unsound:
        yield 0.0, "condition"


def least(limits: Sequence[tuple[float, LimitName]]) -> tuple[float, LimitName]:
    """The least of some limits and its name, the last of equal ones."""
    found, name = limits[0]
    for limit, of in limits[1:]:
        if limit <= found * (1 + SLACK):
            found, name = limit, of
    return found, name


def allowed_end(pack: Pack, end_cell_voltage: float | None = None) -> float:
    """The end-of-charge voltage per cell, V: as asked, but no higher than chemistry and temperature leave."""
    most = charge_voltage(pack.kind, pack.temperature)
    return most if end_cell_voltage is None else min(most, end_cell_voltage)


def body_words(condition: Condition) -> str:
    """What is the matter with a pack's body: ``crashed``, ``got wet``, ``is swollen``."""
    return {"crashed": "crashed", "wet": "got wet"}.get(condition, f"is {condition}")


def _because(pack: Pack, limited_by: LimitName) -> str:
    if limited_by == "suspect-cell" and pack.cell_voltages is not None:
        return f", no more because {suspect_words(pack.kind, pack.cell_voltages)}"
    return LIMIT_WORDS[limited_by]


def _refusal(pack: Pack, limited_by: LimitName) -> str:
    """Why a pack must not be charged, in words."""
    if limited_by == "condition":
        return f"it {body_words(pack.condition)}"
    if limited_by == "cell-count":
        return "its voltage leaves the number of cells in doubt"
    if limited_by == "low-cell":
        return f"a cell is below {volts(pack.kind.dead_cell or 0.0)}"
    if limited_by == "temperature":
        return f"at {warmth_words(pack)} it is too {'cold' if is_too_cold(pack.kind, pack.temperature) else 'hot'}"
    return _full_words(pack)


def cure(pack: Pack) -> str:
    """What to do with a pack at a temperature at which it must not be charged."""
    return "warm it" if is_too_cold(pack.kind, pack.temperature) else "let it cool"


def warmth_words(pack: Pack) -> str:
    """The pack's temperature, off the band's side where it is beyond it: 40.3 is then no 40 degrees, nor 10.3 still 10,
    up to which the cold takes its part.
    """
    kind, temperature = pack.kind, pack.temperature
    cold, hot = is_too_cold(kind, temperature), is_too_hot(kind, temperature)
    mild = is_cool(kind, temperature - 1) and not is_cool(kind, temperature)
    return degrees(temperature, "down" if cold else "up" if hot or mild else "near")


def proviso(pack: Pack) -> str:
    """On what condition a sentence lets a pack be charged, comma and all; mostly on none."""
    return "only if it is not frozen, " if may_be_frozen(pack.kind, pack.temperature) else ""


def _full_words(pack: Pack) -> str:
    high, end = highest_cell(pack), pack.kind.end_of_charge
    if is_overfull(pack.kind, high):
        whole = pack.rest_voltage
        return f"a cell stands at {volts(high)}, above full" if whole is None else f"{volts(whole)} is above full"
    if high >= end - SLACK:
        full = "it is full"
    elif high >= charge_voltage(pack.kind, pack.temperature) - SLACK:
        full = "it is as full as the cold allows"
    else:
        full = "it stands at its end voltage already"
    if not is_suspect(pack) or pack.cell_voltages is None:
        return full
    return f"{full}, and {suspect_words(pack.kind, pack.cell_voltages)}"


def pack_cautions(pack: Pack, rate: float, max_rate: float | None) -> Iterator[Caution]:
    """What to heed of the pack that is to be charged, the reason for a refusal first."""
    if pack.unsound:
        yield caution(pack.condition)
    yield from rate_cautions(pack.kind, rate, max_rate)
    yield from state_cautions(pack)
    yield from warmth_cautions(pack)


def state_cautions(pack: Pack) -> Iterator[Caution]:
    """What to heed of a pack as it stands, whatever is done with it: its body and its voltages."""
    if pack.unsound:
        yield caution(pack.condition)
    if pack.rest_voltage is not None or pack.cell_voltages is not None:
        yield from reading_of(pack)  # a state of charge that is told as such is nowhere beyond its curve
    if pack.temperature < VERY_COLD - SLACK:
        yield caution("very-cold")


def reading_of(pack: Pack) -> Iterator[Caution]:
    """What to heed of the voltages that were told of a pack."""
    yield from overfull_cautions(pack)
    if pack.rest_voltage is not None and (fewer := fewer_cells(pack.kind, pack.size, pack.rest_voltage)):
        yield caution("cell-count", fewer=count(fewer, "cell"))
    elif (low := low_cell_rate(pack.kind, pack.voltage_readings())) < inf:
        yield caution("low-cell" if low else "dead-cell")  # of cells that are known to be so many
    yield from taken_for_life(pack.kind, pack.voltage_readings())
    yield from suspect_cautions(pack)
    yield from deep_lead(pack)


def rate_cautions(kind: Chemistry, rate: float, max_rate: float | None = None) -> Iterator[Caution]:
    """What to say of the rate that is asked."""
    usual = kind.usual_rate
    if max_rate is None and rate > usual * (1 + SLACK):
        harm = "a cell may plate lithium, swell and burn" if kind.is_lithium else "it overheats and vents"
        yield caution("rate-above-usual", asked=spoken_rate(rate), usual=spoken_rate(usual), harm=harm)
    if max_rate is not None and min(rate, max_rate) > LARGEST_LABEL * (1 + SLACK):
        yield caution("label-rate-doubtful", rate=spoken_rate(max_rate))


def warmth_cautions(pack: Pack) -> Iterator[Caution]:
    """What the pack's temperature takes from a charge."""
    kind, temperature = pack.kind, pack.temperature
    if is_too_cold(kind, temperature):
        yield caution("too-cold", limit=degrees(kind.charge_band.coldest))
    elif is_too_hot(kind, temperature):
        yield caution("too-hot")
    elif is_cool(kind, temperature):
        cut = kind.charge_band.cool_cut
        yield caution("cold", lower=f", to {volts(charge_voltage(kind, temperature))} a cell at most" if cut else "")
    if may_be_frozen(kind, temperature):
        yield caution("frozen-lead")


def deep_lead(pack: Pack) -> Iterator[Caution]:
    """What to say of a lead-acid battery whose rest voltage tells of a dead cell."""
    readings = pack.voltage_readings()
    if readings is not None and pack.kind.holds_acid and min(readings.tolist()) < pack.kind.floor - SLACK:
        yield caution("lead-deep")


def spread_cautions(pack: Pack) -> Iterator[Caution]:
    """What to say of cells that were measured apart, of a pack that may ever be charged to level them."""
    if pack.cell_voltages is None or never_charged(pack):
        return
    cells = pack.cell_voltages.tolist()
    spread = max(cells) - min(cells)
    if spread > LEVEL + SLACK:
        yield cells_differ(pack.kind, millivolts(spread))
    elif spread > 0 and not pack.kind.holds_acid:
        yield caution("cells-differ-little", spread=millivolts(spread))


def never_charged(pack: Pack) -> bool:
    """Whether a pack must not be charged as it stands, however warm it is: its body, or a cell, forbids it."""
    low = low_cell_rate(pack.kind, pack.voltage_readings())
    return pack.unsound or low == 0 or is_overfull(pack.kind, highest_cell(pack))


def end_of_charge(chemistry: ChemistryName) -> float:
    """The chemistry's own end-of-charge voltage per cell."""
    return CHEMISTRIES[chemistry].end_of_charge


def end_is_allowed(chemistry: ChemistryName, end_cell_voltage: float) -> Iterator[FieldError]:
    """Nobody may charge beyond the chemistry's own voltage."""
    most = CHEMISTRIES[chemistry].end_of_charge
    if end_cell_voltage > most * (1 + SLACK):
        said = f"end_cell_voltage must be at most {most} V for {chemistry}"
        kin = CHEMISTRIES[chemistry].high_voltage_kin
        hint = f"; only if the label says high voltage, ask with chemistry {kin}" if kin else ""
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


def charge_edges(pack: Pack, given: frozenset[str]) -> tuple[SeriesPack, SeriesPack] | None:
    """The pack whose charge is the shortest and the one whose is the longest that it may be; None where they are one.

    What its state may be by a voltage, and its resistance by its origin. A slow part that is 30 percent off moves the
    time by less than what the model errs.
    """
    origin = resistance_factors(pack, given)
    told = pack.voltage_readings() is None
    if told and origin == (1, 1):
        return None
    low, high = (None, None) if told else pack.state_edges()
    least, most = (Resisting(factor, factor) for factor in origin)
    return least.of(pack.resolved(high)), most.of(pack.resolved(low))


def is_resistive(cells: SeriesPack) -> bool:
    """Whether cells have so much resistance that the model's time is too short."""
    return any(R0 * Q >= RESISTIVE * (1 - SLACK) for _, Q, R0, _ in cells.kinds)


def time_band(shortest: float, longest: float, slowest: Sequence[SeriesPack]) -> Band:
    """How long a real charge takes, from the model's times at both edges, the slow one with those packs."""
    resistive = any(map(is_resistive, slowest))
    low, high = error("charge time of a resistive pack" if resistive else "charge time")
    beside = error("charge time beside")
    basis = (
        "0.95 of the time from the highest state and the least resistance that there may be, to "
        f"{high:.2f} of that from the lowest and the most, and 15 minutes for balancing and ramps; this project's own "
        "judgement"
    )
    return Band("time_total", low * shortest + beside[0], high * longest + beside[1], basis)
