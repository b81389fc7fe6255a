"""Cautions by code, each with how grave it is and where it comes from.

Wordings are this project's own; the source beside each says who gives the advice.
Over 300 lines: it is a table.
"""

from collections.abc import Iterable, Iterator
from functools import lru_cache

from ampstead.cell.kinds.chemistries import Chemistry
from ampstead.declare import Caution, Severity
from ampstead.inputs.pack import Pack

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
        "warning",
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
        "The state of charge is read from resting voltage, on which published cells disagree: go by the span.",
    ),
    # This project's own judgement.
    "long-charge": (
        "warning",
        "A charge this long is rarely watched to its end: charge in parts, and stop whenever you leave.",
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
        "Below its floor a cell is soon harmed: land, or lighten the load.",
    ),
    "dead-cell-load": (
        "danger",
        "Cell {cell} reads below an empty cell's voltage: put no load on this pack, and do not charge it.",
    ),
    "load-impossible": (
        "danger",
        "This pack cannot carry that load: its voltage would collapse and the motor stop.",
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
        "Do not fly or fast-charge this pack before you know why {why}.",
    ),
    "steady-draw": (
        "note",
        "The limits hold for this current drawn steadily over the whole flight, without airflow, and for the "
        "resistance as measured; no standard gives such a limit.",
    ),
    "flight-too-warm": (
        "warning",
        "Heat ends this flight before the charge does: lighten the load, or let air to the pack.",
    ),
    "flight-too-hard": (
        "warning",
        "Voltage ends this flight before the charge does: this load is hard on this pack.",
    ),
    # This project's own judgement.
    "no-reserve": (
        "warning",
        "No reserve is kept: the pack is empty when the time is up, and a pack flown empty is soon a bad one. Keep a "
        "fifth of it for the landing.",
    ),
    "no-airflow": ("note", "The temperature is reckoned without airflow, which is the safe side."),
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
        "Light duty means the bench and lamps on the ground: never a receiver, since a receiver whose pack gives up is "
        "a crash.",
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
    # This project's own judgement: no published figure fits short leads.
    "lead-hot": (
        "warning",
        "This lead warms by {rate} degrees a second until air carries the heat away: take thicker wire, or draw this "
        "in short bursts only.",
    ),
    "lead-drop": ("warning", "The drop is over the limit of {limit}: take thicker wire or shorten the lead."),
    "lead-impossible": (
        "danger",
        "The lead would lose more than the whole voltage: this current cannot flow through it.",
    ),
    "no-ampacity": (
        "note",
        "No verdict on what this wire may carry: published tables are for long wires in hot bundles. Feel the lead and "
        "its connectors after use, and follow the local rules for wiring.",
    ),
    # 49 CFR 175.10 (terminals; 2018 edition, retrieved), TSA (spares never in checked baggage; retrieved).
    "carriage-spares": (
        "warning",
        "Spare lithium packs never go into the hold: carry them in the cabin, each with its terminals taped over or in "
        "a bag of its own.",
    ),
    # FAA, from memory: damaged or recalled batteries may not fly.
    "carriage-unsound": ("danger", "A pack that is not sound, or is recalled, goes on no aircraft at all."),
    "carriage-rules": (
        "warning",
        "These are the passenger rules of 2025 and 2026 as read from copies: they change every year, airlines and "
        "countries may be stricter, and the airline decides. Ask before you travel.",
    ),
    # IATA and ICAO rules of 2025-26 for freight, as told by dangerous-goods trainers.
    "carriage-cargo": (
        "note",
        "Sent as freight, other rules hold: lithium packs alone go on cargo aircraft only, at no more than 30 percent "
        "charge. That is a rule for freight, not for baggage.",
    ),
    "carriage-too-many": ("warning", "{count} are more than the {allowed} that one traveller may carry."),
    "carriage-label": (
        "warning",
        "The label's energy is {ratio} of what voltage and capacity make: read the label again.",
    ),
    "carriage-close": (
        "warning",
        "This is close to a limit of the rules: the energy printed on the label decides, not this figure.",
    ),
    "carriage-unlike-lithium": (
        "note",
        "The lithium rules do not apply to {words} packs; what is said here of them is from memory. Terminals must be "
        "guarded against a short all the same.",
    ),
    "carriage-acid": (
        "danger",
        "A lead-acid battery that can spill does not go on a passenger aircraft; only a sealed one that cannot may.",
    ),
    # The published limits for charging by temperature, which conflict.
    "limits-conflict": (
        "note",
        "Published limits conflict: fire-safety advice says 0 to 40 degrees, and is used here; cell makers' sheets say "
        "0 to 45; a Japanese guideline charges up to 60 at lower voltages, and from 0 to 10 halves the current or "
        "lowers the voltage.",
    ),
    "limits-borrowed": (
        "note",
        "No published limit was read for {words} packs: this band is this project's own judgement, and the pack's "
        "papers count.",
    ),
    "frozen-lead": (
        "danger",
        "Never charge a lead-acid battery that may be frozen; an empty one freezes first.",
    ),
    "charge-too-hard": (
        "danger",
        "{asked} is more than this temperature leaves: charge at {most} at most.",
    ),
    "charge-heats": (
        "warning",
        "At this current the pack may come to {temperature}, above the {stop} at which a charge is cut off: charge "
        "slower.",
    ),
    # Common practice and this project's own judgement.
    "rise-alarm": (
        "warning",
        "Look at the pack when it is 10 degrees warmer than at the start, and stop at 20 degrees, or if any part is "
        "warmer than the rest.",
    ),
    "flown-too-deep": (
        "warning",
        "The last flight took {used} of the capacity, more than the reserve allows: the timer is shorter than that "
        "flight.",
    ),
    "returned-too-much": (
        "danger",
        "More went back in than the label holds: the charge, the label or the charger's setting is wrong. Check before "
        "you charge this pack again.",
    ),
    "timer-cold": (
        "warning",
        "A cold pack sags more: {lost} of the usable charge is lost, by a rough model. Start with a warm pack, and "
        "land at the first sign of weakness.",
    ),
    # This project's own judgement.
    "timer-far": (
        "warning",
        "So little was put back that the timer stops at three times the last flight: fly longer, and ask again.",
    ),
    "timer-too-cold": ("danger", "So cold, this pack may not carry that load at all: warm it before you fly."),
    "timer-steady": (
        "note",
        "The timer holds for flying like the last flight: fly harder and it is too long.",
    ),
    "older-pack": ("note", "A worn pack also sags more than a new one: set the low-voltage warning as well."),
    "alarm-below-floor": (
        "warning",
        "Under this current a cell meets its floor before the reserve: draw less, and never set the warning lower.",
    ),
    "alarm-impossible": (
        "danger",
        "Under this current a cell is at its floor from the start: do not fly it so.",
    ),
    "alarm-guess": (
        "warning",
        "The resistance is not known: the least that such packs have is taken, so that this warning comes early rather "
        "than late. Measure it under load for one that fits.",
    ),
    "alarm-gentle": (
        "note",
        "Under a lighter load the voltage stays higher, so that this warning comes late: fly by a timer as well.",
    ),
    # This project's own judgement throughout: how to read a pack at rest, and what its readings leave open.
    "rest-first": (
        "note",
        "Read a pack after at least half an hour's rest: just after a flight it reads low, just after a charge high.",
    ),
    "cells-unseen": (
        "note",
        "One voltage for the whole pack hides a weak cell: read each cell at the balance plug.",
    ),
    "uneven-cells": (
        "warning",
        "The cells differ by {spread}: the lowest sets what this pack has. Level them at the next charge, and look "
        "whether the same cell falls back.",
    ),
    # Common practice, no published source.
    "lead-kept-full": ("note", "Lead-acid is kept full: charge it soon after use, it does not last half empty."),
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
        "No pack's voltage rises with the current drawn: check the readings, their order and the leads.",
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
    "small-difference": (
        "warning",
        "The charge went over {part} of the curve only: use the pack down to a fifth, let it rest, charge it full, let "
        "it rest again, and ask with those readings.",
    ),
    "curves-disagree": (
        "warning",
        "Published curves of like cells disagree much on the voltage where this charge began: surer is a counted, "
        "watched discharge from full to the floor.",
    ),
    "more-than-label": (
        "warning",
        "That is more than the label says: check the readings and the charger's count; charge bled off in balancing "
        "counts as well.",
    ),
    "worn-pack": (
        "note",
        "Below 80 percent of the label a pack is usually retired: common practice, no published source.",
    ),
    # Charge efficiency of lead-acid about 0.85: common practice, no published source.
    "lead-returned": (
        "note",
        "A lead-acid battery takes in more than it stores, about a sixth more: the low end of the band counts that.",
    ),
    # USFA and Seattle Fire Department: stop using a failing pack; to a battery recycling point (retrieved).
    "cell-empties-itself": (
        "danger",
        "Cell {cell} empties itself, which is the best sign of a pack going bad: do not charge or fly it. Keep it "
        "outdoors in something that cannot burn, and take it to a battery recycling point.",
    ),
    "cell-may-empty": (
        "warning",
        "Cell {cell} falls faster than a sound one: let the pack stand as long again, and do not leave it charged.",
    ),
    "all-cells-fall": (
        "warning",
        "All the cells fall: was something left plugged in, or was the pack just charged before the first reading?",
    ),
    "cells-rose": ("note", "A cell rose: the pack was not yet at rest at the first reading, or was charged between."),
    "below-rest-floor": (
        "warning",
        "Cell {cell} rests below {floor}: charge the pack soon, gently and watched, or retire it.",
    ),
    "within-reading": (
        "note",
        "Differences up to {step} may be the meter's: a longer wait tells more.",
    ),
    "same-warmth": ("note", "Take both readings with the same meter and at the same temperature."),
    # Phoenix Fire Department says it of charging (retrieved); of discharging it is common practice.
    "watched-discharge": ("danger", "Never leave a pack alone while it is being discharged."),
    "long-discharge": (
        "warning",
        "A discharge this long is rarely watched to its end: fly the pack down instead, to well above its floor, or "
        "use a stronger discharger.",
    ),
    "long-discharge-grounded": (
        "warning",
        "A discharge this long is rarely watched to its end: use a stronger discharger, outdoors, and do not fly this "
        "pack.",
    ),
    # US Fire Administration: away from what burns, not in direct sun or hot cars (retrieved).
    "stored-safely": (
        "note",
        "Store it cool and dry, out of the sun and of hot cars, away from anything that can burn, its terminals "
        "covered; look at its cells again every few months.",
    ),
    "stored-high": (
        "warning",
        "That is high for storing: a lithium pack ages fast when it stands nearly full, and burns harder.",
    ),
    "stored-low": ("warning", "That is low for storing: a cell that loses a little more may fall below its floor."),
    "cells-too-far": (
        "warning",
        "The cells stand too far apart to be moved together: level them on a balance charger first, watched.",
    ),
    "discharge-hot": ("danger", "Above 60 degrees a pack must not be loaded: let it cool first."),
    "discharge-strong": (
        "warning",
        "At this power a cell falls below its floor before the end: use less.",
    ),
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
        "{cells}: with the balance plugs joined, up to {current} would flow through a wire not made for it. Level each "
        "pack by itself first.",
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
        "Check the polarity of every plug, join the main leads first, wait until the packs are at rest, and only then "
        "join the balance plugs: their thin wires cannot carry the exchange.",
    ),
    "group-settle-first": (
        "note",
        "The packs still level each other: join them, wait {time}, measure and ask again, and they take more.",
    ),
    "group-uneven": (
        "note",
        "The packs do not share the charge evenly: {pack} takes the most, and sets the total.",
    ),
    "board-fuse": (
        "warning",
        "Use a board with a fuse for every pack: one shorted cell draws on all the others.",
    ),
    "one-program": (
        "warning",
        "The charger sees the group as one pack of {capacity}; a pack that fails or falls off shifts its share to the "
        "others. Look at each of them.",
    ),
    # Common practice, no published source.
    "starting-battery": (
        "warning",
        "A vehicle's starting battery is not made for this: deep use harms it, and you may not get home. Run the "
        "engine only in the open, or bring a battery of its own for the field.",
    ),
    "deep-use": ("warning", "Using {depth} of this battery, where {usual} is usual, ages it fast."),
    "peukert-assumed": (
        "note",
        "The exponent for the loss at high currents was not given: that of a poor flooded battery was taken, the safe "
        "side.",
    ),
    "source-low-cell": (
        "warning",
        "A cell of the source falls below its floor of {floor}: stop earlier, or take a larger source.",
    ),
    "source-collapses": (
        "danger",
        "This source cannot give that power through these leads: its voltage would collapse.",
    ),
    "source-input-low": (
        "warning",
        "The charger drops out at its floor of {floor} while the source still has charge: shorter or thicker leads, "
        "or a lower rate, get more out of it.",
    ),
    "source-unsound": (
        "danger",
        "Do not draw on a source that is not sound.",
    ),
    # Common practice, no published source.
    "source-fuse": (
        "warning",
        "Put a fuse at the source's terminal: a large battery drives hundreds of amperes through a short.",
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
        "watched-discharge",
        "stored-safely",
        "steady-draw",
        "no-airflow",
        "mains",
        "no-ampacity",
        "carriage-spares",
        "carriage-rules",
        "carriage-cargo",
        "limits-conflict",
        "limits-borrowed",
        "rise-alarm",
        "timer-steady",
        "alarm-gentle",
        "rest-first",
        "lead-gas",
        "lead-kept-full",
        "fast-reading",
        "reading-as-method",
        "short-load",
        "same-warmth",
        "main-leads-first",
        "board-fuse",
        "one-program",
        "starting-battery",
        "source-fuse",
        "extrapolated-curve",
        "state-from-voltage",
        "short-burst",
        "peukert-assumed",
        "flat-curve",
        "lead-time",
    }
)

CHARGING = ("never-alone", "signs-of-failure", "papers", "charging-place", "charger-setting")

CODES = frozenset(_TABLE)
"""Every code; that files name no other is seen to at import."""


def caution(code: str, **words: object) -> Caution:
    """The caution of a code, its blanks filled in."""
    severity, text = _TABLE[code]
    return Caution(code, severity, text.format(**words), code in STANDING)


@lru_cache(maxsize=16)
def charging(kind: Chemistry | None = None) -> tuple[Caution, ...]:
    """What every charging answer says, and what it says of this kind of pack."""
    said = tuple(caution(code) for code in CHARGING)
    return (*said, caution("lead-gas")) if kind is not None and kind.holds_acid else said


def resistance_cautions(pack: Pack, given: frozenset[str]) -> Iterator[Caution]:
    """What to say of where the resistance comes from."""
    if not {"cell_resistance", "pack_resistance"} & given:
        yield caution("resistance-assumed")
    elif pack.resistance_method in ("1kHz", "charger"):
        yield caution("resistance-kind", kind="1 kilohertz" if pack.resistance_method == "1kHz" else "a charger")


def ranked(cautions: Iterable[Caution]) -> list[Caution]:
    """Gravest first, of one severity the particular before the standing, each said once, else in the order given."""
    return sorted(dict.fromkeys(cautions), key=lambda entry: (GRAVITY.index(entry.severity), entry.standing))
