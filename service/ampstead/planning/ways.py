"""From packs and chargers to the work of a plan: who may be charged where, how hard, and who is left out and why."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf, log

from ampstead.cell.kinds.chemistries import cell_mass
from ampstead.cell.limits.charge_bands import is_too_hot
from ampstead.cell.one.charge import Charge, charge, time_of_charge
from ampstead.cell.one.series import SeriesPack
from ampstead.inputs.session import Charger, SessionPack
from ampstead.judging.bands import resistance_told
from ampstead.judging.cells import is_suspect, suspect_words
from ampstead.judging.charging import Verdict, charge_edges, charge_verdict, charger_limits, time_band
from ampstead.words import count

from .search import PARTS
from .work import Bank, Task, Way

TAPER = 0.1  # The charge ends at this part of the set current; common practice.
LEAST_RATE = 0.02
"""Multiples of the capacity an hour below which no charge is planned. This project's own judgement."""
HEAVY, SPECIFIC_HEAT, DENSITY, STILL_AIR = 1.3, 1050.0, 2000.0, 8.0
"""A pack's mass over the light side's, J/(kg·K), kg/m³ and W/(m²·K): for a pack that cools slowly. The heat and density
are published cells'; free convection takes 2 to 25 W/(m²·K) (Cengel); the choice is this project's own judgement."""
MOST_PAIRS = 1500
"""Of packs and kinds of outputs up to which every part of a current is worked out; beyond, so many times fewer are."""


@dataclass(frozen=True)
class Asked:
    """A pack as it will be when it is charged, and the verdict on it."""

    place: int
    name: str
    pack: SessionPack
    verdict: Verdict
    ready: float
    cools: float
    """Until when it only cools down, s; 0 where it need not."""
    why: str | None
    """Why it is not charged at all; None where it is."""


def asked(packs: Sequence[SessionPack], names: Sequence[str], ambient: float) -> list[Asked]:
    """The packs, those that are hot as they are once they have cooled."""
    made = []
    for place, (told, name) in enumerate(zip(packs, names, strict=True)):
        pack, cools = told, 0.0
        if is_too_hot(told.kind, told.temperature):
            cools = cooling_time(told, ambient)
            if cools < inf:
                pack = replace(told, temperature=told.kind.charge_band.hottest)
        verdict = charge_verdict(pack, pack.rate, pack.max_rate)
        ready = max(pack.ready_at or 0.0, cools if cools < inf else 0.0)
        made.append(Asked(place, name, pack, verdict, ready, cools, _left_out(pack, verdict)))
    return made


def cooling_time(pack: SessionPack, ambient: float) -> float:
    """How long a hot pack lies in still air before it may be charged, s; infinite where the air is too warm.

    Newton's cooling of a cube of the pack's mass, which of all boxes has the least surface:

        t = τ·ln((T − T_air)/(T_limit − T_air)),  τ = m·c/(h·A),  A = 6·(m/ρ)^(2/3)        (1)
    """
    limit = pack.kind.charge_band.hottest
    if ambient >= limit:
        return inf
    mass = HEAVY * sum(cell_mass(pack.kind, float(capacity)) for capacity in pack.capacities())
    tau = mass * SPECIFIC_HEAT / (STILL_AIR * 6.0 * (mass / DENSITY) ** (2.0 / 3.0))
    time: float = tau * log((pack.temperature - ambient) / (limit - ambient))
    return time


def _left_out(pack: SessionPack, verdict: Verdict) -> str | None:
    if verdict.refused:
        return verdict.because
    if is_suspect(pack) and pack.cell_voltages is not None:
        return suspect_words(pack.kind, pack.cell_voltages)
    if verdict.limited_by == "low-cell":
        return "a cell rests very low; charge it alone, watched, at a tenth of its capacity an hour"
    if not pack.kind.charge_timed:
        return "how long lead-acid takes cannot be told"
    return None


def banks_of(chargers: Sequence[Charger]) -> tuple[tuple[Bank, ...], tuple[Charger, ...]]:
    """The outputs by kind, and a charger for each kind: alike ones are one bank, if none has a limit of its own."""
    banks: list[Bank] = []
    kinds: list[Charger] = []
    for place, charger in enumerate(chargers):
        own = charger.total_power_limit is not None and charger.outputs > 1
        outputs = tuple((place, output) for output in range(charger.outputs))
        kind = replace(charger, name=None, outputs=1, idle_power=0.0)
        if not own and kind in kinds:
            at = kinds.index(kind)
            banks[at] = Bank(banks[at].outputs + outputs)
            continue
        banks.append(Bank(outputs, charger.total_power_limit if own and charger.total_power_limit else inf))
        kinds.append(charger if own else kind)
    return tuple(banks), tuple(kinds)


class Ways:
    """The ways of each pack, with the charges worked out once for each current."""

    def __init__(self, asked: Sequence[Asked], kinds: Sequence[Charger]) -> None:
        self.asked, self.kinds = asked, kinds
        self.parts = PARTS[:: min(1 + len(asked) * len(kinds) // MOST_PAIRS, len(PARTS) - 1)]
        self._runs: dict[tuple[int, float], tuple[Charge, float, float]] = {}
        self._ways: dict[tuple[int, float, float], Way] = {}
        self._packs: dict[int, tuple[SeriesPack, SeriesPack]] = {}

    def tasks(self, power: float) -> tuple[list[Task], dict[int, str]]:
        """The tasks that a supply of so many watts can do, and why others cannot be done, by the packs' places."""
        tasks, unserved = [], {}
        for entry in self.asked:
            if entry.why is not None:
                unserved[entry.place] = entry.why
                continue
            ways, why = self._of(entry, power)
            if ways:
                need_by = inf if entry.pack.need_by is None else entry.pack.need_by
                tasks.append(Task(entry.place, entry.ready, need_by, ways))
            else:
                unserved[entry.place] = why
        return tasks, unserved

    def _of(self, entry: Asked, power: float) -> tuple[dict[int, tuple[Way, ...]], str]:
        pack, end = entry.pack, entry.pack.size * entry.verdict.end_cell_voltage
        ways: dict[int, tuple[Way, ...]] = {}
        why = f"no charger here takes {count(pack.size, 'cell')}"
        for bank, charger in enumerate(self.kinds):
            if not charger.takes(pack.size):
                continue
            given = [limit for limit in (charger.power_limit, charger.total_power_limit) if limit is not None]
            limits = charger_limits(charger.current_limit, min(given, default=None), power, charger.efficiency, end)
            most = min([entry.verdict.current, *(limit for limit, _ in limits)])
            if most < LEAST_RATE * pack.charge / 3600.0:
                why = "there is too little power for it"
                continue
            made = [self._way(entry, part * most, charger.efficiency) for part in self.parts]
            if made[0].time <= 0.0:
                return {}, "it is full"
            ways[bank] = tuple(way for way in made if way.time > 0.0)
        return ways, why

    def _way(self, entry: Asked, current: float, efficiency: float) -> Way:
        key = entry.place, current
        if key not in self._runs:
            pack, low = self._resolved(entry)
            end = entry.verdict.end_cell_voltage
            run = charge(pack, current, end, TAPER * current)
            longest = run.time_total
            if low is not pack:
                longest = max(longest, time_of_charge(low, current, end, TAPER * current))
            stored = sum(track.count * track.area(run.charge) for track in pack.charging)
            self._runs[key] = run, stored, time_band(0.0, longest, [low]).high
        run, stored, high = self._runs[key]
        alike = *key, efficiency
        if alike not in self._ways:
            self._ways[alike] = Way(run, current, efficiency, stored, high)
        return self._ways[alike]

    def _resolved(self, entry: Asked) -> tuple[SeriesPack, SeriesPack]:
        """The pack as it is told, and as the one whose charge takes longest that it may be."""
        if entry.place not in self._packs:
            pack, edges = entry.pack.resolved(), charge_edges(entry.pack, resistance_told(entry.pack))
            self._packs[entry.place] = pack, pack if edges is None else edges[1]
        return self._packs[entry.place]
