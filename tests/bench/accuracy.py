"""How near the cell model comes to runs of other programs, and every result to its figures from outside.

    python tests/bench/accuracy.py

One row per group of the project's own data files (tests/reference/data/cell_*.json): how many cases, the largest
error of a time, charge, energy, current or factor in per cent and of a time in seconds, of a voltage in millivolts and
of a temperature in kelvin; below it, what with. Then a row for each result of each calculator, which tests/README.md
tells in full. Nothing is asserted here: the tests hold the same figures to bounds.
"""

import json
import sys
import textwrap
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.one.charge import charge
from ampstead.cell.one.discharge import loaded
from ampstead.cell.one.flight import Flight, Phase, Warming, flight
from ampstead.cell.one.heat import heat_limited_current
from ampstead.cell.one.series import SeriesPack
from ampstead.cell.wiring import supply

DATA = Path(__file__).parents[1] / "reference" / "data"
HOUR = 3600.0
LIPO = CHEMISTRIES["lipo"].curve
EDGES = ("immediate", "no_RC", "lower")


@dataclass
class Group:
    """The largest errors of some cases; none where nothing of that kind was compared."""

    name: str
    cases: int = 0
    relative: float | None = None
    seconds: float | None = None
    volts: float | None = None
    kelvins: float | None = None

    def ratio(self, got: float, known: float) -> None:
        if known != 0.0:
            self.relative = max(self.relative or 0.0, abs(got / known - 1.0))
        elif got != 0.0:
            raise ArithmeticError(f"{self.name}: {got} where nothing was expected")

    def time(self, got: float, known: float) -> None:
        self.seconds = max(self.seconds or 0.0, abs(got - known))
        self.ratio(got, known)

    def voltage(self, got: float, known: float) -> None:
        self.volts = max(self.volts or 0.0, abs(got - known))

    def temperature(self, got: float, known: float) -> None:
        self.kelvins = max(self.kelvins or 0.0, abs(got - known))


def read(name: str) -> Any:
    return json.loads((DATA / f"cell_{name}.json").read_text(encoding="utf-8"))


def one_cell(cell: dict[str, float], state: float) -> SeriesPack:
    assert LIPO is not None
    capacity = np.array([cell["capacity_Ah"] * HOUR])
    ohmic, polarisation = np.array([cell["ohmic"]]), np.array([cell["polarisation"]])
    return SeriesPack(LIPO, np.array([state]), capacity, ohmic, polarisation, cell["time_constant"])


def charged(data: Any) -> Iterable[Group]:
    usual, edges = Group("charge"), Group("charge, edge cases")
    for case in data["cases"]:
        group = edges if case["cell"].startswith(EDGES) else usual
        group.cases += 1
        pack = one_cell(data["cells"][case["cell"]], case["state"])
        answer = charge(pack, case["current"], case["end_voltage"], case["end_current"])
        whole = case["time_constant_current"] + case["time_constant_voltage"]
        group.time(answer.time_total, whole)
        for phase in ("time_constant_current", "time_constant_voltage"):
            group.time(getattr(answer, phase), case[phase])
        group.ratio(answer.first_current, case["first_current"])
        group.ratio(float(answer.states_end[0]), case["state_end"])
        if "charge_Ah" in case:
            group.ratio(answer.charge, case["charge_Ah"] * HOUR)
            group.ratio(answer.energy, case["energy_Wh"] * HOUR)
    return usual, edges


def discharged(data: Any) -> Iterable[Group]:
    pulse = Group("pulse")
    for case in data["pulse"]:
        pulse.cases += 1
        for seconds, voltage in case["voltages"].items():
            pack = one_cell(data["cells"][case["cell"]], case["state"])
            answer = loaded(pack, float(seconds), current=case["current"])
            assert answer is not None
            pulse.voltage(float(answer.cell_voltages[0]), voltage)
    yield pulse
    for kind, name in (("current", "discharge"), ("power", "discharge at constant power")):
        group = Group(name)
        for case in data[kind]:
            group.cases += 1
            flown = flight(
                one_cell(data["cells"][case["cell"]], 1.0), [Phase(**{kind: case[kind]})], floor=case["floor"]
            )
            _compare_flight(group, flown, case)
        yield group
    heating = Group("heating")
    for case in data["thermal"]:
        heating.cases += 1
        warm = Warming(mass=case["mass"], start=298.15, ambient=298.15, cooling=case["cooling"], activation=0.0)
        pack = one_cell(data["cells"][case["cell"]], 1.0)
        flown = flight(pack, [Phase(current=case["current"])], floor=case["floor"], warming=warm)
        _compare_flight(heating, flown, case)
        assert flown.temperatures is not None
        heating.temperature(float(flown.temperatures[0]), case["end_celsius"] + 273.15)
    yield heating


def _compare_flight(group: Group, flown: Flight, case: dict[str, float]) -> None:
    group.time(flown.time, case["time"])
    group.ratio(flown.charge, case["charge_Ah"] * HOUR)
    group.ratio(flown.energy, case["energy_Wh"] * HOUR)
    if case["time"] > 0.0:
        group.ratio(flown.current, case["current_end"])
        group.voltage(float(flown.cell_voltages.min()), case["floor"])


def recovered(data: Any) -> Iterable[Group]:
    group = Group("recovery after a pulse")
    for case in data["cases"]:
        group.cases += 1
        steps = [Phase(current=case["current"], duration=data["duration"]), Phase(current=0.0, duration=60.0)]
        flown = flight(one_cell(data["cells"][case["cell"]], case["state"]), steps, repeat=False)
        for seconds, voltage in case["voltages"].items():
            group.voltage(float(flown.curve(data["duration"] + float(seconds)).weakest_voltage[0]), voltage)
    return (group,)


def weak(data: Any) -> Iterable[Group]:
    assert LIPO is not None
    group = Group("weak cell in a pack")
    states, capacities, ohmic, polarisation = (
        np.array(data[key]) for key in ("states", "capacities_Ah", "ohmic", "polarisation")
    )
    pack = SeriesPack(LIPO, states, capacities * HOUR, ohmic, polarisation, data["time_constant"])
    for sample in data["samples"]:
        group.cases += 1
        answer = loaded(pack, sample["time"], current=data["current"])
        assert answer is not None
        for got, known in zip(answer.cell_voltages, sample["cell_voltages"], strict=True):
            group.voltage(float(got), known)
    return (group,)


def heat_limited(data: Any) -> Iterable[Group]:
    group = Group("current limited by heat")
    for case in data["cases"]:
        group.cases += 1
        current = heat_limited_current(
            charge=data["charge_Ah"] * HOUR,
            limit=data["limit"],
            ohmic=case["ohmic"],
            polarisation=case["polarisation"],
            time_constant=case["time_constant"],
            mass=data["mass"],
            start=data["start"],
            ambient=data["start"],
            cooling=case["cooling"],
            entropy=0.0,
        )
        group.ratio(current, case["current"])
    return (group,)


def supplied(data: Any) -> Iterable[Group]:
    loads, factor = Group("constant-power loads on a bus"), Group("load factor, bisected there to 0.02 %")
    for case in data["cases"]:
        loads.cases, factor.cases = loads.cases + 1, factor.cases + 1
        circuit = (case["source_voltage"], case["source_resistance"], case["powers"], case["lead_resistances"])
        bus, known = supply.bus(*circuit), case["solution"]
        if (bus is None) != (known is None):
            raise ArithmeticError("a bus that settles on one side only")
        if bus is not None:
            loads.voltage(bus.voltage, known["voltage"])
            for got, current in zip(bus.currents, known["currents"], strict=True):
                loads.ratio(got, current)
            for got, voltage in zip(bus.load_voltages, known["load_voltages"], strict=True):
                loads.voltage(got, voltage)
        factor.ratio(supply.largest_load_factor(*circuit), case["load_factor"])
    return loads, factor


FILES: dict[str, Callable[[Any], Iterable[Group]]] = {
    "charge": charged,
    "discharge": discharged,
    "recovery": recovered,
    "weak": weak,
    "heat_limit": heat_limited,
    "supply": supplied,
}


def shown(value: float | None, factor: float = 1.0) -> str:
    return "-" if value is None else f"{factor * value:.1e}"


def main() -> int:
    print(f"{'':38} {'cases':>5} {'%':>9} {'s':>9} {'mV':>9} {'K':>9}")
    for name, compare in FILES.items():
        data = read(name)
        for group in compare(data):
            errors = (
                shown(group.relative, 100.0),
                shown(group.seconds),
                shown(group.volts, 1000.0),
                shown(group.kelvins),
            )
            print(f"{group.name:38} {group.cases:5} " + " ".join(f"{error:>9}" for error in errors))
        told = f"with: {data['source']} ({data['kind']}, {data['status']})"
        print(textwrap.fill(told, 116, initial_indent="    ", subsequent_indent="    "))
    others = sorted(path.stem.removeprefix("cell_") for path in DATA.glob("cell_*.json"))
    left = [name for name in others if name not in FILES]
    if left:
        print(f"\nNot compared here: {', '.join(left)}.")
    sys.path.insert(0, str(DATA.parents[1]))
    from reference import table

    print()
    for line in table.narrow():
        print(line)
    return 0


if __name__ == "__main__":
    sys.exit(main())
