"""Cautions by code, each with how grave it is and where it comes from.

Wordings are this project's own; the source beside each says who gives the advice.
"""

from collections.abc import Iterable, Iterator

from ampstead.declare import Caution, Severity
from ampstead.pack import Pack

GRAVITY: tuple[Severity, ...] = ("danger", "warning", "note")

_TABLE: dict[str, tuple[Severity, str]] = {
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
        "Set the charger to this chemistry and to the true number of cells, and use the balance lead.",
    ),
    # US Fire Administration, UL FSRI as carried by Clemson University (retrieved).
    "signs-of-failure": (
        "warning",
        "Stop at any swelling, smell, hiss, leak or unusual heat; if it is safe, move the pack outside, and "
        "call the fire service if it smokes.",
    ),
    "rate-above-usual": (
        "danger",
        "{asked} is harder than the usual {usual} for this chemistry. Charge so only if the pack's own label "
        "allows it; otherwise a cell may plate lithium, swell and burn.",
    ),
    "overcharged": (
        "danger",
        "A cell stands above its end-of-charge voltage. Do not charge; check the reading and the charger, and "
        "let the pack down outdoors, watched.",
    ),
    "overcharged-slightly": (
        "warning",
        "A cell reads above its full voltage by no more than a meter's error; it is taken as full.",
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
    # USFA quoting NFPA: do not charge below 0 or above 40 degrees (retrieved).
    "too-cold": ("danger", "Below 0 degrees a lithium cell must not be charged: warm it first."),
    "too-hot": ("danger", "Above 40 degrees a pack must not be charged: let it cool first."),
    "cold": (
        "warning",
        "From 0 to 10 degrees a lithium cell takes a fifth of the current only; better warm it first.",
    ),
    # Published by a cell maker (at most 0.1C below 3.0 V); Humberside Fire & Rescue on very low packs.
    "low-cell": (
        "danger",
        "A cell is below 3.0 volts: at most a tenth of the capacity an hour, watched, and stop if it warms or "
        "does not rise.",
    ),
    # This project's own judgement.
    "dead-cell": (
        "danger",
        "A cell is below 2.5 volts: do not charge this pack. It may short inside; take it to a battery "
        "recycling point.",
    ),
    "cell-count": (
        "danger",
        "This voltage would suit {fewer}: do not charge before the cells are counted. The balance plug has one "
        "wire more than the pack has cells; then give each cell's voltage.",
    ),
    "cells-differ": (
        "warning",
        "The cells differ by {spread}: charge through the balance lead and let it level them.",
    ),
    "fills-unevenly": (
        "note",
        "Cell {cell} is full first and ends the charge; the emptiest cell then lacks {lacking} unless the charger "
        "levels them.",
    ),
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
        "The state of charge is read from resting voltage, on which published cells disagree; see accuracy.",
    ),
    "lead-time": (
        "note",
        "No time is given for lead-acid: the last part of its charge takes hours and depends on the charger.",
    ),
    "resistance-assumed": (
        "note",
        "The resistance is a cautious guess from chemistry and capacity; a measured one makes this far surer.",
    ),
    "resistance-kind": (
        "note",
        "A reading of {kind} is not the resistance under load: it was turned into one by a rough factor.",
    ),
    "very-cold": ("warning", "Below minus 10 degrees the model promises nothing; a pack gives much less."),
    "below-floor": (
        "warning",
        "Cell {cell} goes below its floor under this load: land or lighten the load.",
    ),
    "dead-cell-load": (
        "danger",
        "Cell {cell} reads below an empty cell's voltage: put no load on this pack, and do not charge it.",
    ),
    "load-impossible": (
        "danger",
        "This pack cannot give that power: its voltage would collapse and the motor stop.",
    ),
    "short-burst": ("note", "For bursts a constant resistance is good to about 40 percent only."),
    "not-rested": (
        "warning",
        "The cells were not at rest: under charge or load a spread tells of resistance as well as of charge.",
    ),
    "level-by-voltage": (
        "note",
        "Voltage says little in the flat middle of the curve: look again near full, where it says most.",
    ),
    "suspect-cell": (
        "danger",
        "Cell {cell} stands out: do not fly or fast-charge this pack before it is understood.",
    ),
    "steady-draw": (
        "note",
        "The limits hold for this current drawn steadily over the whole flight, without airflow, and for the "
        "resistance as measured; no standard gives such a limit.",
    ),
    "hot-start": ("danger", "The pack is at its limit of temperature already: let it cool before it flies."),
    "unlike-cells": (
        "warning",
        "Cell {cell} has {ratio} times the resistance of its fellows: it sets what this pack can give.",
    ),
    # Common practice, no published source; USFA: not in the trash, to a battery recycling point (retrieved).
    "retired": (
        "danger",
        "Do not fly or charge this pack again; take it to a battery recycling point.",
    ),
    "light-duty": (
        "warning",
        "Light duty means the bench, lights or a receiver, where a pack that gives up hurts nobody.",
    ),
    "overloaded": (
        "warning",
        "The power to spare is too little for this charge: it would trip or brown out the supply.",
    ),
    "starved": (
        "warning",
        "Nothing is left for {name}: the other loads take all the power there is.",
    ),
    "short": ("warning", "{name} gets only {allotted} of the {asked} it asks for."),
    "mains": (
        "warning",
        "Keep to the supply's own papers; work on the mains or on a vehicle's wiring is for licensed people.",
    ),
    "no-headroom": ("note", "No headroom is kept: a supply run at its full rating runs hot and ages."),
    "bus-collapse": (
        "danger",
        "Through these leads the source cannot carry these loads at all: its voltage would collapse.",
    ),
    "input-low": ("warning", "A load's input falls below its floor of {floor}: it would drop out or restart."),
}  # fmt: skip

CHARGING = ("never-alone", "signs-of-failure", "papers", "charging-place", "charger-setting")


def caution(code: str, **words: object) -> Caution:
    """The caution of a code, its blanks filled in."""
    severity, text = _TABLE[code]
    return Caution(code, severity, text.format(**words))


def charging() -> list[Caution]:
    """What every charging answer says."""
    return [caution(code) for code in CHARGING]


def resistance_cautions(pack: Pack, given: frozenset[str]) -> Iterator[Caution]:
    """What to say of where the resistance comes from."""
    if not {"cell_resistance", "pack_resistance"} & given:
        yield caution("resistance-assumed")
    elif pack.resistance_method in ("1kHz", "charger"):
        yield caution("resistance-kind", kind="1 kilohertz" if pack.resistance_method == "1kHz" else "a charger")


def ranked(cautions: Iterable[Caution]) -> list[Caution]:
    """Gravest first, each said once, otherwise in the order given."""
    return sorted(dict.fromkeys(cautions), key=lambda entry: GRAVITY.index(entry.severity))
