"""Cautions by code, each with how grave it is and where it comes from: those that several calculators use.

One that a single calculator uses stands in its file.

Wordings are this project's own; the source beside each says who gives the advice.
Over 300 lines: it is a table.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from functools import lru_cache

from ampstead.cell.kinds.chemistries import Chemistry
from ampstead.cell.kinds.resistance import temperature_ratio
from ampstead.declare import Caution, Severity
from ampstead.inputs.pack import ROOM, Pack
from ampstead.words import capitalised, count, listed

GRAVITY: tuple[Severity, ...] = ("danger", "warning", "note")

Table = Mapping[str, tuple[Severity, str]]

NAMED = 3
"""As many packs are named before a caution; the others are counted."""

WORN = 0.8
"""Part of the label's capacity below which a pack is usually retired. Common practice, no published source."""
VERY_COLD = 263.15
"""-10 °C: below it the model promises nothing."""
DOUBTFUL = 1 / 3
"""Of the least usual resistance, below which one that was told is doubted. This project's own judgement."""
HOTTEST_LOAD = 333.15
"""60 °C, above which a pack is not loaded. Common in cell makers' sheets."""
LONG_CHARGE = 8 * 3600.0
"""s from which a charge is hardly watched to its end. This project's own judgement."""
LONG_DISCHARGE = 3600.0
"""s from which a discharge is long. This project's own judgement."""
SLACK = 1e-9

_TABLE: Table = {
    # Phoenix Fire Department: not unattended, not overnight (retrieved); Seattle Fire Department (retrieved).
    "never-alone": ("danger", "Never leave a charging pack alone."),
    # Fire services' advice to use the maker's charger and papers (ESFI, Cumbria Fire & Rescue; retrieved).
    "papers": (
        "warning",
        "Follow the papers of the pack and of the charger, and the local rules; where they are stricter than "
        "this answer, they count.",
    ),
    # ESFI, Humberside Fire & Rescue (retrieved).
    "charging-place": (
        "note",
        "Charge on a hard surface that cannot burn, in the open or near a smoke alarm, off the escape route, "
        "and never covered.",
    ),
    # Common practice, no published source: charger set to the chemistry and the true number of cells.
    "charger-setting": (
        "note",
        "Set the charger to this chemistry and to the true number of cells, and use the balance lead where the pack "
        "has one.",
    ),
    # US Fire Administration, UL FSRI as carried by Clemson University (retrieved).
    "signs-of-failure": (
        "warning",
        "Stop at any swelling, smell, hiss, leak or unusual heat; if it is safe, move the pack outside, and "
        "call the fire service if it smokes.",
    ),
    "rate-above-usual": (
        "danger",
        "A rate of {asked} is harder than the usual {usual} for this chemistry. Charge so only if the pack's own label "
        "allows it; otherwise {harm}.",
    ),
    # This project's own judgement.
    "label-rate-doubtful": (
        "danger",
        "Hardly any label allows a charge at {rate}: the large rate on a label is for discharge. Read it again.",
    ),
    "chemistry-in-doubt": (
        "danger",
        "Is this a lithium-iron-phosphate pack? At rest its cells stand just so, and a lithium-polymer charge would "
        "overcharge it: read the label, and ask with that chemistry if it is.",
    ),
    "overcharged": (
        "danger",
        "A cell stands above its end-of-charge voltage. Do not charge; {cure}.",
    ),
    "overcharged-slightly": (
        "danger",
        "A cell reads above its full voltage by no more than chargers err; it is full: do not charge it further.",
    ),
    # South Wales and Seattle fire services: not swollen, damaged, crushed or wet ones (retrieved).
    "swollen": (
        "danger",
        "A swollen pack is finished: do not charge, join or fly it. Keep it outdoors in something that cannot "
        "burn, and take it to a battery recycling point.",
    ),
    "damaged": (
        "danger",
        "A damaged pack is finished: do not charge, join or fly it. Keep it outdoors in something that cannot "
        "burn, and take it to a battery recycling point.",
    ),
    "wet": (
        "danger",
        "A pack that got wet may short inside days later: do not charge or fly it. Keep it outdoors, away from "
        "what can burn, and take it to a battery recycling point.",
    ),
    "crashed": (
        "danger",
        "A crashed pack may fail hours later: do not charge or fly it. Watch it outdoors in something that "
        "cannot burn, then retire it to a battery recycling point.",
    ),
    # This project's own judgement.
    "lead-deep": (
        "danger",
        "At rest this lead-acid battery is below an empty one: a cell may be shorted. Charge it in the open, watched, "
        "and give it up if it warms, smells or does not rise.",
    ),
    # Common practice, no published source.
    "lead-gas": (
        "warning",
        "Lead-acid gives off explosive gas while it is charged: charge it in the open, away from flames and sparks.",
    ),
    # Cell standards and data sheets: 2.35 volts for gel where flooded and absorbed-glass-mat take 2.40.
    "lead-gel": (
        "warning",
        "A gel battery takes 2.35 volts a cell at most, less than other lead-acid: set the end of charge on its label.",
    ),
    # Common practice, no published source.
    "nickel-end": (
        "warning",
        "A nickel pack tells its end by a fall of its voltage or by warmth: only a charger that watches for that, and "
        "a timer beside it, may charge so; nickel-charge has the figures.",
    ),
    # USFA quoting NFPA: do not charge below 0 or above 40 degrees (retrieved).
    "too-cold": ("danger", "Below {limit} this pack must not be charged: warm it first."),
    "too-hot": ("danger", "Above 40 degrees a pack must not be charged: let it cool first."),
    "cold": (
        "warning",
        "From 0 to 10 degrees a cell is charged with a fifth of the usual current at most{lower}; better warm it "
        "first.",
    ),
    # Published by a cell maker (at most 0.1C below 3.0 V); Humberside Fire & Rescue on very low packs.
    "low-cell": (
        "danger",
        "A cell rests very low: charge with at most a tenth of the capacity an hour, watched, and stop if it warms or "
        "does not rise.",
    ),
    # This project's own judgement.
    "dead-cell": (
        "danger",
        "A cell rests so low that it may short inside: do not charge this pack, and take it to a battery recycling "
        "point.",
    ),
    "cell-count": (
        "danger",
        "This voltage would suit {fewer}: do not charge before the cells are counted. The balance plug has one "
        "wire more than the pack has cells; then give each cell's voltage.",
    ),
    "cells-differ": ("warning", "The cells differ by {spread}: {cure}."),
    "cells-differ-little": ("note", "The cells differ by {spread}; charge through the balance lead."),
    "extrapolated-curve": (
        "note",
        "No open table of this high-voltage chemistry exists: its curve is extrapolated, not measured.",
    ),
    "flat-curve": (
        "note",
        "This chemistry's voltage hardly moves over most of its charge: a state read from voltage is rough.",
    ),
    "state-from-voltage": (
        "note",
        "The state of charge is read from resting voltage, on which published cells disagree: go by the span.",
    ),
    "lead-time": (
        "note",
        "No time is given for lead-acid: the last part of its charge takes hours and depends on the charger.",
    ),
    "resistance-assumed": (
        "note",
        "The resistance is a cautious guess from chemistry and capacity; a measured one makes this far surer.",
    ),
    # This project's own judgement: a slip of the decimal point, or of the unit, promises ten times the current.
    "resistance-doubtful": (
        "warning",
        "Hardly any pack of this kind and size has so little resistance: read the meter again, its unit and its "
        "decimal point, before you trust this.",
    ),
    "resistance-kind": (
        "note",
        "A reading of {kind} is not the resistance under load: it was turned into one by a rough factor.",
    ),
    # Resistance by temperature as in cell/kinds/resistance.py; the warmth to aim at is warm-up's own judgement.
    "cold-load": (
        "warning",
        "A pack this cold sags more and gives less: warm it to 20 degrees before it flies, and begin gently.",
    ),
    # This project's own judgement.
    "air-uncounted": (
        "warning",
        "The air of {air} changes nothing here without a cooling: the pack is taken at {pack}. One that lies in that "
        "air comes to its temperature: tell the pack's own.",
    ),
    "very-cold": (
        "warning",
        "Below minus 10 degrees the model promises nothing, and a pack gives much less: warm it first.",
    ),
    "dead-cell-load": (
        "danger",
        "Cell {cell} reads below an empty cell's voltage: put no load on this pack.",
    ),
    "load-impossible": (
        "danger",
        "This pack cannot carry that load: its voltage would collapse, and what it drives would stop.",
    ),
    "short-burst": ("note", "For bursts a constant resistance is good to about 40 percent only."),
    "suspect-cell": (
        "danger",
        "Do not fly {advice}",
    ),
    "steady-draw": (
        "note",
        "The limits hold for this current drawn steadily over the whole flight, without airflow, and for the "
        "resistance as measured; no standard gives such a limit.",
    ),
    # This project's own judgement.
    "no-reserve": (
        "warning",
        "No reserve is kept: the pack is empty when the time is up, and a pack flown empty is soon a bad one. Keep a "
        "fifth of it for the landing.",
    ),
    "hot-start": ("danger", "A pack so warm passes its limit of temperature in any flight: let it cool first."),
    "unlike-cells": (
        "warning",
        "Cell {cell} has {ratio} times the resistance of its fellows: it sets what this pack can give.",
    ),
    "no-headroom": ("note", "No headroom is kept: a supply run at its full rating runs hot and ages."),
    "frozen-lead": (
        "danger",
        "Never charge a lead-acid battery that may be frozen; an empty one freezes first.",
    ),
    # This project's own judgement throughout: how to read a pack at rest, and what its readings leave open.
    "rest-first": (
        "note",
        "Read a pack after at least half an hour's rest: just after a flight it reads low, just after a charge high.",
    ),
    "cells-unseen": (
        "note",
        "One voltage for the whole pack hides a weak cell: {how}.",
    ),
    # Phoenix Fire Department says it of charging (retrieved); of discharging it is common practice.
    "watched-discharge": ("danger", "Never leave a pack alone while it is being discharged."),
    # This project's own judgement.
    "long-charge": (
        "warning",
        "A charge this long is rarely watched to its end: charge in parts, and stop whenever you leave.",
    ),
    # This project's own judgement.
    "long-discharge": (
        "warning",
        "A discharge this long is rarely watched to its end: stop it whenever you leave, or use a stronger discharger.",
    ),
    # Common in cell makers' sheets.
    "discharge-hot": ("danger", "Above 60 degrees a pack must not be loaded: let it cool first."),
    # Common practice, no published source.
    "lead-kept-full": ("note", "Lead-acid is kept full: charge it soon after use, it does not last half empty."),
    # This project's own judgement, from the exchange between packs worked out for each question.
    "join-too-hard": (
        "danger",
        "Joined as they are, the current would heat cells, plugs and leads, and cells charged so hard may swell and "
        "burn. Charge or use the packs one by one until they stand closer, and measure again.",
    ),
    "join-hard": (
        "warning",
        "A pack may be charged harder than it should be until they have levelled: bring them closer first, and watch "
        "for warmth if you join them all the same.",
    ),
    "join-cells-apart": (
        "danger",
        "{cells}: {why}. Level each pack by itself first.",
    ),
    "join-unsure": (
        "warning",
        "Close to the limit: resistance and model are not that sure, and up to {rate} may flow. Better bring them "
        "closer than {difference} a cell first.",
    ),
    "join-overcharges": (
        "danger",
        "Cell {cell} of {pack} would be driven above full by the other packs: level each pack's cells before it is "
        "joined.",
    ),
    "join-empties": (
        "danger",
        "Cell {cell} of {pack} would be driven below empty: level each pack's cells before it is joined.",
    ),
    "join-resistance-assumed": (
        "warning",
        "A resistance was guessed, and for a join the guess is not on the safe side: a good pack may have a third of "
        "it, and three times this current flows. Measure it.",
    ),
    # Common practice, no published source: the rule that is weighed here.
    "tenth-of-a-volt": (
        "warning",
        "That packs may differ by a tenth of a volt a cell is no safe rule: between these it could drive {rate} into "
        "one of them. The difference over the resistance, against the capacity, is what counts.",
    ),
    # Common practice, no published source.
    "main-leads-first": (
        "warning",
        "Check the polarity of every plug{order}.",
    ),
    # Common practice, no published source.
    "charge-apart": (
        "warning",
        "Charge packs that fly in series apart, each with its own number of cells{plugged}: charged as one, the "
        "smaller or fuller of them would be overcharged.",
    ),
    "worn-pack": (
        "note",
        "Below 80 percent of the label a pack is usually retired: common practice, no published source.",
    ),
    "peukert-assumed": (
        "note",
        "The exponent for the loss at high currents was not given: that of a poor flooded battery was taken, the safe "
        "side.",
    ),
}  # fmt: skip

# What holds on any day, whatever the question.
STANDING = frozenset(
    {
        "never-alone",
        "papers",
        "charging-place",
        "charger-setting",
        "signs-of-failure",
        "steady-draw",
        "rest-first",
        "lead-gas",
        "lead-gel",
        "lead-kept-full",
        "main-leads-first",
        "charge-apart",
        "extrapolated-curve",
        "state-from-voltage",
        "short-burst",
        "peukert-assumed",
        "flat-curve",
        "lead-time",
        "watched-discharge",
    }
)

CHARGING = ("never-alone", "signs-of-failure", "papers", "charging-place", "charger-setting")


class Cautions:
    """Cautions by code: how grave each is, its text with blanks, and which of them hold on any day.

    That files name no other code is seen to at import.
    """

    def __init__(self, table: Table, standing: Set[str]) -> None:
        if unknown := standing - table.keys():
            raise TypeError(f"there is no caution {min(unknown)}")
        self.table, self.standing = table, standing
        self.kept: dict[str, Caution] = {}

    def __call__(self, code: str, **words: object) -> Caution:
        """The caution of a code, its blanks filled in; one without blanks is made once."""
        if not words and code in self.kept:
            return self.kept[code]
        severity, text = self.table[code]
        made = Caution(code, severity, text.format(**words), code in self.standing)
        if not words:
            self.kept[code] = made
        return made

    def beside(self, own: Table, standing: Set[str] = frozenset()) -> "Cautions":
        """These, and those that one calculator alone uses."""
        if twice := own.keys() & self.table.keys():
            raise TypeError(f"there are two cautions {min(twice)}")
        return Cautions({**self.table, **own}, self.standing | standing)


caution = Cautions(_TABLE, STANDING)


@lru_cache(maxsize=16)
def charging(kind: Chemistry | None = None) -> tuple[Caution, ...]:
    """What every charging answer says, and what it says of this kind of pack."""
    said = tuple(caution(code) for code in CHARGING)
    return (*said, caution("lead-gas"), caution("lead-gel")) if kind is not None and kind.holds_acid else said


def resistance_cautions(pack: Pack, given: frozenset[str]) -> Iterator[Caution]:
    """What to say of where the resistance comes from."""
    if not {"cell_resistance", "pack_resistance"} & given:
        yield caution("resistance-assumed")
        return
    if doubtfully_low(pack):
        yield caution("resistance-doubtful")
    if pack.resistance_method in ("1kHz", "charger"):
        yield caution("resistance-kind", kind="1 kilohertz" if pack.resistance_method == "1kHz" else "a charger")


def doubtfully_low(pack: Pack) -> bool:
    """Whether a resistance that was told is below a third of the least usual one for kind and capacity."""
    if pack.capacity is None or pack.cells is None:
        return False
    kind = pack.kind
    usual = kind.resistance_charge_band[0] if kind.resistance_charge_band else 0.5 * kind.resistance_charge
    warm = float(max(pack.ohmic())) * float(temperature_ratio(ROOM, pack.temperature))
    return warm * pack.charge < DOUBTFUL * usual * (1 - SLACK)


def of_packs(told: Sequence[tuple[str, Iterable[Caution]]]) -> Iterator[Caution]:
    """Cautions beside the name of each of several packs; each once, with whose it is unless it is said of them all."""
    owners: dict[Caution, list[str]] = {}
    for name, cautions in told:
        for entry in dict.fromkeys(cautions):
            owners.setdefault(entry, []).append(name)
    for entry, names in owners.items():
        if len(names) == len(told):
            yield entry
        else:
            more = len(names) - NAMED
            said = listed([*names[:NAMED], *([count(more, "other")] if more > 0 else [])])
            yield entry._replace(text=f"{capitalised(said)}: {entry.text}")


def ranked(cautions: Iterable[Caution]) -> list[Caution]:
    """Gravest first, of one severity the particular before the standing, each said once, else in the order given."""
    return sorted(dict.fromkeys(cautions), key=lambda entry: (GRAVITY.index(entry.severity), entry.standing))


def cells_unseen(kind: Chemistry) -> Caution:
    """What one voltage for a whole pack hides, and where to look."""
    acid, plugged = "put a load on it, and see whether its voltage holds", "read each cell at the balance plug"
    return caution("cells-unseen", how=acid if kind.holds_acid else plugged)


def has_balance_plug(kind: Chemistry, cells: int) -> bool:
    """Whether so many cells have a plug of their own: lead-acid batteries and single cells have none."""
    return cells > 1 and not kind.holds_acid


def main_leads_first(kind: Chemistry, cells: int) -> Caution:
    """How packs of such a kind and so many cells are joined."""
    order = (
        ", join the main leads first, wait until the packs are at rest, and only then join the balance plugs: their "
        "thin wires cannot carry the exchange"
    )
    bare = ", and join them plus to plus and minus to minus"
    return caution("main-leads-first", order=order if has_balance_plug(kind, cells) else bare)


def charge_apart(kind: Chemistry, cells: int) -> Caution:
    """How packs that are used in series are charged."""
    return caution("charge-apart", plugged=" and on its own balance lead" if has_balance_plug(kind, cells) else "")


def cells_differ(kind: Chemistry, spread: str) -> Caution:
    """How cells that differ by so much, in words, are levelled."""
    plugged = "charge through the balance lead and let it level them"
    acid = "level them by a long charge, where its papers allow one"
    return caution("cells-differ", spread=spread, cure=acid if kind.holds_acid else plugged)


def worn_cautions(capacity_left: float | None) -> Iterator[Caution]:
    """What to say of a pack that holds this part of its label."""
    if capacity_left is not None and capacity_left < WORN - SLACK:
        yield caution("worn-pack")
