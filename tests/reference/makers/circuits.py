"""Joins, charges and field batteries by a circuit simulator: cases of parallel-join and of field-energy.

    apt-get install ngspice && python tests/reference/makers/circuits.py [path of ngspice]

works the cases out anew, prints how far the files are from them, and with `--write` puts them in. A pack is a
capacitor that holds its charge, a source that follows it by the published table, a resistance, and one more beside
a capacitor; the load or the charger is a source of current that follows the voltage it sees.
"""

import json
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ampstead.cell.kinds.tables import AI_2020, ARMY_TM_LEAD_ACID, CHEN_2020, PRADA_2013, STATES

DATA = Path(__file__).parents[1] / "data"
TABLES = {
    "lipo": (STATES, AI_2020, "Ai et al. 2020"),
    "liion": (STATES, CHEN_2020, "Chen et al. 2020"),
    "life": (STATES, PRADA_2013, "Prada et al. 2013"),
    "lead": (*zip(*((z, v / 6) for z, v in ARMY_TM_LEAD_ACID), strict=True), "US Army TM 5-3805-262-20"),
}
SIMULATOR = next((argument for argument in sys.argv[1:] if not argument.startswith("-")), "ngspice")


@dataclass(frozen=True)
class Pack:
    chemistry: str
    cells: int
    ampere_hours: float
    milliohms: float
    slow: float
    volts: float | None = None
    state: float | None = None
    seconds: float = 30.0

    @property
    def begun(self) -> float:
        if self.state is not None:
            return self.state
        x, y, _ = TABLES[self.chemistry]
        assert self.volts is not None
        return float(np.interp(self.volts / self.cells, y, x))

    def question(self) -> dict[str, Any]:
        state = {"rest_voltage": f"{self.volts} V"} if self.state is None else {"state_of_charge": self.state}
        return {
            "chemistry": self.chemistry,
            "cells": self.cells,
            "capacity": f"{round(self.ampere_hours * 1000)} mAh",
            "cell_resistance": f"{self.milliohms} mΩ",
            "polarisation_resistance": f"{self.slow} mΩ",
            "polarisation_time": f"{self.seconds} s",
            **state,
        }

    def lines(self, tag: str, lead: float, loss: str = "1") -> list[str]:
        """From node p of this tag outward to its node t; the state stands as volts at its node s."""
        x, y, _ = TABLES[self.chemistry]
        points = ", ".join(f"{a:.9g}, {b:.9g}" for a, b in zip(x, y, strict=True))
        R1 = self.cells * self.slow * 1e-3
        slow = [f"R1{tag} m{tag} n{tag} {R1}", f"C1{tag} m{tag} n{tag} {self.seconds / R1} IC=0"]
        return [
            f"Cq{tag} s{tag} 0 {self.ampere_hours * 3600} IC={self.begun:.12g}",
            f"Bq{tag} s{tag} 0 I=I(Vi{tag})*({loss})",
            f"Be{tag} p{tag} 0 V={self.cells}*pwl(V(s{tag}), {points})",
            f"Vi{tag} p{tag} m{tag} 0",
            *(slow if self.seconds > 0.1 else [f"R1{tag} m{tag} n{tag} {R1}"]),
            f"R0{tag} n{tag} k{tag} {self.cells * self.milliohms * 1e-3}",
            f"Rl{tag} k{tag} t{tag} {max(lead, 1e-9)}",
        ]


def simulated(lines: list[str], seconds: float, step: float, vectors: list[str], tolerance: float = 1e-6) -> list[Any]:
    """Times, and each vector at them."""
    with tempfile.TemporaryDirectory() as folder:
        text = "\n".join(
            [
                "a pack",
                *lines,
                f".options reltol={tolerance} abstol=1e-9 vntol=1e-9 method=gear",
                ".control",
                f"tran {step} {seconds} 0 {step} uic",
                f"wrdata out.data {' '.join(vectors)}",
                "quit",
                ".endc",
                ".end",
            ]
        )
        path = Path(folder) / "in.cir"
        path.write_text(text + "\n", encoding="utf-8")
        run = subprocess.run(
            [SIMULATOR, "-b", path.name], cwd=folder, capture_output=True, text=True, timeout=120, check=False
        )
        written = Path(folder) / "out.data"
        if not written.exists():
            raise RuntimeError(run.stdout[-2000:] + run.stderr[-2000:])
        columns = np.loadtxt(written).T
    return [columns[0], *(columns[1 + 2 * k] for k in range(len(vectors)))]


def first(times: Any, values: Any, below: float) -> float:
    """When the values come down to a figure for good."""
    above = np.nonzero(values > below)[0]
    last = int(above[-1])
    part = (values[last] - below) / (values[last] - values[last + 1])
    return float(times[last] + part * (times[last + 1] - times[last]))


def join(packs: list[Pack], lead: float) -> dict[str, Any]:
    lines = []
    for number, pack in enumerate(packs):
        lines += [*pack.lines(str(number), lead), f"Vt{number} t{number} bus 0"]
    lines.append("Rx bus 0 1e9")
    currents = [f"I(Vt{number})" for number in range(len(packs))]  # out of the packs
    times, *drawn = simulated(lines, 3000.0, 0.25, currents)
    flows = [-each for each in drawn]
    capacities = np.array([pack.ampere_hours for pack in packs])
    rates = np.array(flows) / capacities[:, None]
    _, *ends = simulated(lines, 60000.0, 20.0, ["V(bus)", *(f"V(s{number})" for number in range(len(packs)))], 1e-5)
    moved = np.array([pack.begun - end[-1] for pack, end in zip(packs, ends[1:], strict=True)]) * capacities * 1000.0
    start = np.array([flow[1] for flow in flows])  # the first step is the operating point
    return {
        "initial_currents": [round(float(value), 5) for value in start],
        "peak_rate": round(float(rates[:, 1:].max()), 5),
        "settled_voltage": round(float(ends[0][-1]), 5),
        "time_to_settle": round(first(times, np.abs(rates).max(axis=0), 0.1) / 60.0, 4),
        "charge_moved": round(float(moved[moved > 0].sum()), 3),
    }


def charged(pack: Pack, current: float, end: float) -> tuple[float, float]:
    """Energy at the pack's terminals in Wh, and seconds, to a tenth of the current."""
    held = pack.cells * end
    lines = [*pack.lines("a", 0.0), f"Bc 0 ta I=max(0, min({current}, 2e3*({held}-V(ta))))"]
    times, drawn, volts = simulated(lines, 3600.0 / (current / pack.ampere_hours) * 2.5, 0.5, ["I(Via)", "V(ta)"])
    flow = -drawn
    ended = first(times, flow, 0.1 * current)
    keep = times < ended
    t, i = np.append(times[keep], ended), np.append(flow[keep], 0.1 * current)
    v = np.append(volts[keep], held)
    t[0], i[0], v[0] = 0.0, i[1], v[1]
    return float(np.trapezoid(v * i, t)) / 3600.0, ended


def field(
    source: Pack, power: float, lead: float, *, left: float, floor: float, loss: str = "1"
) -> tuple[float, str, float, float]:
    """Wh at the load, what ended it, the largest current and the lowest voltage."""
    lines = [*source.lines("a", lead, loss), f"Bl ta 0 I={power}/max(V(ta), 1)"]
    longest = source.ampere_hours * source.cells * TABLES[source.chemistry][1][-1] / power * 3600.0
    times, state, volts = simulated(lines, longest, longest / 20000, ["V(sa)", "V(ta)"])
    times, state, volts = times[1:], state[1:], volts[1:]
    ends = {}
    for name, values, limit in (("depth", state, left), ("input-floor", volts, floor)):
        under = np.nonzero(values < limit)[0]
        if len(under):
            k = int(under[0])
            ends[name] = float(np.interp(limit, [values[k], values[k - 1]], [times[k], times[k - 1]]))
    name = min(ends, key=lambda each: ends[each])
    lowest = float(np.interp(ends[name], times, volts))
    return power * ends[name] / 3600.0, name, power / lowest, lowest


TRAINERS = [Pack("lipo", 3, 2.25, ohms, ohms / 2, volts) for ohms, volts in ((8.5, 11.31), (9.0, 11.34), (14.0, 11.4))]
JOINS = {
    "three-trainers-after-flying": (TRAINERS, 0.004, True),
    "two-trainers-far-apart": ([Pack("lipo", 3, 2.25, 9.0, 4.5, volts) for volts in (11.9, 12.3)], 0.004, False),
    "two-evening-wings": ([Pack("liion", 4, 3.5, 24.0, 12.0, volts) for volts in (14.8, 15.2)], 0.01, None),
    "two-transmitters": ([Pack("life", 2, 2.1, 16.0, 8.0, volts) for volts in (6.52, 6.6)], 0.0, None),
}
GLIDER = Pack("lipo", 3, 1.15, 11.0, 5.5, state=0.2)
AEROBAT = Pack("lipo", 4, 3.7, 4.2, 2.1, state=0.3)
TUG = Pack("lipo", 6, 4.9, 2.6, 1.3, state=1.0)
LEAD = Pack("lead", 6, 38.0, 2.2, 1.1, state=1.0)
FIELDS: dict[str, tuple[Pack, Pack, dict[str, Any]]] = {
    "gliders-from-the-tug-to-its-floor": (
        TUG,
        GLIDER,
        {"input_floor": 22.4, "depth": 1.0, "lead": 0.0075, "idle": 3.0},
    ),
    "gliders-from-lead-to-its-depth": (LEAD, GLIDER, {"depth": 0.5, "lead": 0.0075, "idle": 3.0, "peukert": 1.0}),
    "aerobats-from-lead-to-its-floor": (
        LEAD,
        AEROBAT,
        {"input_floor": 11.9, "depth": 0.8, "lead": 0.0075, "peukert": 1.0},
    ),
    "aerobats-from-lead-with-its-loss": (LEAD, AEROBAT, {"depth": 0.5, "lead": 0.0, "peukert": 1.15}),
}


def version() -> str:
    told = subprocess.run([SIMULATOR, "--version"], capture_output=True, text=True, timeout=20, check=False).stdout
    return next(word for word in told.split() if word.startswith("ngspice-")).removeprefix("ngspice-")


def join_case(name: str, packs: list[Pack], lead: float, within: bool | None) -> dict[str, Any]:
    found = join(packs, lead)
    expect: dict[str, Any] = {
        f"answer.initial_currents.{k}": {"value": value, "unit": "A"}
        for k, value in enumerate(found["initial_currents"])
    }
    expect |= {
        "answer.peak_rate": found["peak_rate"],
        "answer.settled_voltage": {"value": found["settled_voltage"], "unit": "V"},
        "answer.time_to_settle": {"value": found["time_to_settle"], "unit": "min"},
        "answer.charge_moved": {"value": found["charge_moved"], "unit": "mAh"},
    }
    if within is not None:
        assert within == (found["peak_rate"] <= 1.0), name
        expect["answer.within_limit"] = within
    return {
        "id": f"circuit-{name}",
        "question": {"packs": [pack.question() for pack in packs], "lead_resistance": f"{lead * 1000} mΩ"},
        "expect": expect,
        "tolerance": {"default": {"rel": 0.001}},
        "source": f"circuit simulator ngspice {version()}; open-circuit curve {TABLES[packs[0].chemistry][2]}",
        "place": "tests/reference/makers/circuits.py; within the limit: no pack above 1C",
        "kind": "simulated elsewhere",
        "status": "computed",
    }


def board_case(name: str, packs: list[Pack], lead: float) -> dict[str, Any]:
    """Packs that may not be joined, on one board."""
    made = join_case(name, packs, lead, False)
    on_board = [pack.question() | {"lead_resistance": f"{lead * 1000} mΩ"} for pack in packs]
    kept = {key: made["expect"][f"answer.{key}"] for key in ("peak_rate", "time_to_settle", "within_limit")}
    expect = {f"answer.{key}": value for key, value in kept.items()} | {"answer.limited_by": "join"}
    return made | {"question": {"packs": on_board}, "expect": expect}


def field_case(name: str, source: Pack, pack: Pack, how: dict[str, Any]) -> dict[str, Any]:
    current, end, efficiency = pack.ampere_hours, 4.2, 0.85
    energy, seconds = charged(pack, current, end)
    idle, lead, k = how.get("idle", 0.0), how["lead"], how.get("peukert", 1.0)
    each = energy / efficiency + idle * seconds / 3600.0
    power = pack.cells * end * current / efficiency + idle
    loss, battery = "1", source
    if k > 1.0:
        # Its runs last hours: the slow part stands beside the fast one from the start, as the service says it does.
        loss = f"max(1, pow(abs(I(Via))*20/{source.ampere_hours}, {k - 1.0:.9g}))"
        battery = Pack(
            source.chemistry, source.cells, source.ampere_hours, source.milliohms, source.slow, state=1.0, seconds=0.0
        )
    floor = how.get("input_floor", 0.0)
    usable, by, most, lowest = field(battery, power, lead, left=1.0 - how["depth"], floor=floor, loss=loss)
    question: dict[str, Any] = {
        "source": source.question() | ({"peukert": k} if source.chemistry == "lead" else {}),
        "packs": [pack.question() | {"rate": 1}],
        "depth": how["depth"],
        "lead_resistance": f"{lead * 1000} mΩ",
        "idle_power": f"{idle} W",
        "efficiency": efficiency,
    }
    if floor:
        question["input_floor"] = f"{floor} V"
    return {
        "id": f"circuit-{name}",
        "question": question,
        "expect": {
            "answer.recharges": round(usable / each, 4),
            "answer.usable_energy": {"value": round(usable, 3), "unit": "Wh"},
            "answer.energy_per_recharge": {"value": round(each, 4), "unit": "Wh"},
            "answer.input_current": {"value": round(most, 4), "unit": "A"},
            "answer.input_voltage_lowest": {"value": round(lowest, 4), "unit": "V"},
            "answer.ended_by": by,
        },
        "tolerance": {"default": {"rel": 0.001}},
        "source": f"circuit simulator ngspice {version()}; open-circuit curves "
        f"{TABLES[source.chemistry][2]}, {TABLES[pack.chemistry][2]}",
        "place": "tests/reference/makers/circuits.py; the charge and the source each as a circuit",
        "kind": "simulated elsewhere",
        "status": "computed",
    }


def kept(name: str, made: list[dict[str, Any]]) -> None:
    path = DATA / f"{name}.json"
    cases = json.loads(path.read_text("utf-8"))
    before = {case["id"]: case for case in cases}
    for case in made:
        was = before.get(case["id"], {}).get("expect", {})
        for key, value in case["expect"].items():
            print(f"{case['id']:44} {key:32} {value!s:40} {was.get(key)!s}")
    if "--write" in sys.argv:
        others = [case for case in cases if case["id"] not in {each["id"] for each in made}]
        path.write_text(json.dumps(others + made, ensure_ascii=False, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    kept("parallel-join", [join_case(name, *how) for name, how in JOINS.items()])
    far = "two-trainers-far-apart"
    kept("group-charge", [board_case(far, *JOINS[far][:2])])
    kept("field-energy", [field_case(name, *how) for name, how in FIELDS.items()])
