"""A pack of the list and its readings, as a program holds them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from dataclasses import fields as dataclass_fields
from datetime import date
from typing import Any, TypeVar

from ampstead_client.calculators import Pack
from ampstead_client.packs import fields
from ampstead_client.packs.faults import Tell, Wrong, likeliest
from ampstead_client.quantity import Quantity

PackT = TypeVar("PackT", bound=Pack)


@dataclass(frozen=True, kw_only=True)
class PackReading:
    """What was measured on a pack on one day."""

    date: date
    """The day."""
    kind: str
    """What: `cell_resistance`, `pack_resistance`, `measured_capacity`, `cell_voltages` or `condition`."""
    value: Quantity | tuple[Quantity, ...] | str
    """The figure; a tuple has one for each cell, a condition is a word."""
    temperature: Quantity | None = None
    """Of the pack then; without it a resistance or a capacity counts in no trend."""
    method: str | None = None
    """How: of a resistance `1kHz`, `charger`, `1s` or `10s`, else your own word. Only like methods are compared."""
    current: Quantity | None = None
    """At which a capacity was drawn; what the cold takes of it follows from that."""

    @property
    def mean(self) -> Quantity | None:
        """The figure, or the mean of the cells' figures; None for a condition."""
        if isinstance(self.value, tuple):
            unit = self.value[0].unit
            return Quantity(sum(each.value_in(unit) for each in self.value) / len(self.value), unit)
        return None if isinstance(self.value, str) else self.value

    @property
    def words(self) -> str:
        """The value as it is written in a file."""
        return ", ".join(map(str, self.value)) if isinstance(self.value, tuple) else str(self.value)


@dataclass(frozen=True, kw_only=True)
class ListedPack(Pack):
    """A pack of the list: any calculator takes it as `pack=`, and uses of it what it asks for.

    Resistance, its method and its temperature, and the measured capacity, are those of the latest reading. Voltages
    are not taken over: a pack's state changes with every flight.
    """

    id: str
    """Stays as it is when the name changes."""
    name: str
    """What the pack is called."""
    label_rate: float | None = None
    """The label's discharge rate."""
    max_rate: float | None = None
    """The label's charge rate."""
    bought: date | None = None
    """The day it was bought."""
    typical_current: Quantity | None = None
    """What its model draws over a whole flight."""
    peak_current: Quantity | None = None
    """What its model draws at full throttle."""
    flight_time: Quantity | None = None
    """Length of a usual flight, in place of its current."""
    charge_returned: Quantity | None = None
    """Charge put back after such a flight."""
    measured_capacity: Quantity | None = None
    """By the latest reading."""
    history: tuple[PackReading, ...] = field(default=(), repr=False)
    """Every reading, in the order of days."""

    def latest(self, *kinds: str) -> PackReading | None:
        """The last reading of any of these kinds."""
        return next((reading for reading in reversed(self.history) if reading.kind in kinds), None)

    def among(self, kind: type[PackT], **more: Any) -> PackT:
        """This pack as one of several: `packs["red trainer A"].among(JoinedPack, rest_voltage="11.31 V")`."""
        taken = {each.name: getattr(self, each.name) for each in dataclass_fields(kind) if hasattr(self, each.name)}
        return kind(**{**taken, **more})


def reading_of(entry: Mapping[str, Any], cells: int | None, tell: Tell) -> PackReading | None:
    """A reading from its keys; None where something is wrong, which is told."""
    found = _read(entry, fields.READING, tell)
    _odd_keys(entry, fields.READING, ("date", "kind", "value"), tell)
    kind = found.get("kind")
    if kind and "value" in found:
        try:
            found["value"] = fields.VALUES[kind](kind, found["value"])
            _lengths(kind, found["value"], cells)
        except Wrong as wrong:
            tell("value", str(wrong))
            return None
    if kind in fields.RESISTANCES:
        if entry.get("method") is None:
            tell("", "method is missing: write how it was measured, 1kHz, charger, 1s or 10s")
            return None
        try:
            found["method"] = fields.METHOD("method", entry["method"])
        except Wrong as wrong:
            tell("method", str(wrong))
            return None
    given = {name for name in fields.READING if entry.get(name) is not None}
    return PackReading(**found) if given == set(found) and {"date", "kind", "value"} <= given else None


def _lengths(kind: str, value: Any, cells: int | None) -> None:
    if isinstance(value, tuple) and cells is not None and len(value) != cells:
        raise Wrong(f"{kind} has {len(value)} values, but the pack has {cells} cells: write one for each cell")
    if kind == "cell_voltages" and not isinstance(value, tuple) and cells != 1:
        raise Wrong(f'{kind} needs the voltage of each cell: write them like "3.77, 3.76, 3.79 V"')


def pack_of(entry: Mapping[str, Any], readings: list[PackReading], tell: Tell) -> ListedPack | None:
    """A pack from its keys and readings; None where something is wrong, which is told."""
    found = _read(entry, fields.PACK, tell)
    _odd_keys(entry, {**fields.PACK, "reading": None}, fields.NEEDED, tell)
    if "typical_current" in found and {"flight_time", "charge_returned"} & set(found):
        tell("typical_current", "give either typical_current, or flight_time with charge_returned")
        return None
    if len({"flight_time", "charge_returned"} & set(found)) == 1:
        tell(next(iter({"flight_time", "charge_returned"} & set(found))), "flight_time and charge_returned go together")
        return None
    given = {name for name in fields.PACK if entry.get(name) is not None}
    if given != set(found) or not set(fields.NEEDED) <= given:
        return None
    history = tuple(sorted(readings, key=lambda reading: reading.date))
    pack = ListedPack(**{**found, "history": history})
    return ListedPack(**{**found, "history": history, **_latest(pack)})


def _latest(pack: ListedPack) -> dict[str, Any]:
    """What calculators take from the latest readings."""
    taken: dict[str, Any] = {}
    if resistance := pack.latest(*fields.RESISTANCES):
        taken[resistance.kind] = resistance.value
        taken |= {"resistance_method": resistance.method, "resistance_temperature": resistance.temperature}
    if capacity := pack.latest("measured_capacity"):
        taken["measured_capacity"] = capacity.value
    # A body once written down as unsound in the pack itself outweighs any reading.
    if (condition := pack.latest("condition")) and pack.condition in (None, "sound"):
        taken["condition"] = condition.value
    return taken


def _read(entry: Mapping[str, Any], readers: Mapping[str, fields.Read], tell: Tell) -> dict[str, Any]:
    found = {}
    for name, reader in readers.items():
        if entry.get(name) is not None:
            try:
                found[name] = reader(name, entry[name])
            except Wrong as wrong:
                tell(name, str(wrong))
    return found


def _odd_keys(entry: Mapping[str, Any], known: Mapping[str, Any], needed: tuple[str, ...], tell: Tell) -> None:
    """Missing keys, and those that look like slips; other unknown keys are the owner's own."""
    missing = [name for name in needed if entry.get(name) is None]
    for name in entry:
        slip = None if name in known else fields.unknown_key(name, [key for key in known if key not in entry])
        if slip:
            tell(name, slip)
            missing = [each for each in missing if f'"{each}"' not in slip]
    for name in missing:
        tell("", f"{name} is missing: write {_EXAMPLES[name]}")


_EXAMPLES = {
    "id": 'id = "red-trainer-a", a short word that stays when the name changes',
    "name": 'name = "red trainer A"',
    "cells": "cells = 3",
    "capacity": 'capacity = "2250 mAh"',
    "date": "date = 2026-04-11",
    "kind": f"kind as one of {', '.join(fields.VALUES)}",
    "value": 'value = "8.5 mΩ"',
}


def kind_named(name: str) -> str:
    """A kind of reading by its name, hyphens and blanks allowed. Raises `Wrong`."""
    plain = name.strip().casefold().replace("-", "_").replace(" ", "_")
    if plain in fields.VALUES:
        return plain
    if plain == "resistance":
        raise Wrong("resistance of what: write cell_resistance, of one cell or each, or pack_resistance, of all")
    if plain == "capacity":
        raise Wrong("capacity is the label's: write measured_capacity for what was measured")
    raise Wrong(f"{name} is no kind of reading{likeliest(plain, list(fields.VALUES))}")
