"""CPU time of the cell model, beside a general-purpose simulator in the same run.

    python tests/bench/bench_cell.py

The other is the equivalent-circuit library thevenin 0.2.1 (BSD-3-Clause) at its default tolerance, on the same cell,
curve, resistances and current, sampled at as many points; `--group bench` installs it. Nothing is asserted: times are
those of this machine, and only their ratio travels.
"""

import sys
import time
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.one.charge import charge
from ampstead.cell.one.discharge import loaded, time_to_floor
from ampstead.cell.one.flight import Phase, Warming, flight
from ampstead.cell.one.series import SeriesPack
from ampstead.cell.rows.charge import charges
from ampstead.cell.rows.discharge import loaded_many, time_to_floor_many

LIPO = CHEMISTRIES["lipo"].curve
POINTS = 180
CAPACITY, OHMIC, POLARISATION, TAU = 4680.0, 0.012, 0.006, 30.0
STATE, CURRENT, END_VOLTAGE, END_CURRENT = 0.2, 1.3, 4.2, 0.13


def cpu(job: Callable[[], object], least: float = 0.3) -> float:
    """CPU seconds of one run, after warm-up, from enough runs to fill `least` seconds."""
    job()
    runs, spent = 1, 0.0
    while spent < least:
        begun = time.process_time()
        for _ in range(runs):
            job()
        spent = time.process_time() - begun
        mean, runs = spent / runs, 2 * runs
    return mean


@contextmanager
def warnings_of_others() -> Iterator[None]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def pack(cells: int = 4, state: float = 1.0) -> SeriesPack:
    assert LIPO is not None
    one = np.ones(cells)
    return SeriesPack(LIPO, state * one, CAPACITY * one, OHMIC * one, POLARISATION * one, TAU)


def one_charge() -> tuple[float, object]:
    """A charge and its curve, everything built anew as for a question that has just come in."""
    answer = charge(pack(1, STATE), CURRENT, END_VOLTAGE, END_CURRENT)
    return answer.time_total, answer.curve(np.linspace(0.0, answer.time_total, POINTS))


def one_charge_elsewhere() -> Callable[[], float] | None:
    try:
        with warnings_of_others():
            import thevenin
    except ImportError:
        return None
    assert LIPO is not None
    states, voltages = LIPO.states, LIPO.voltages
    every = one_charge()[0] / POINTS
    parameters = {
        "num_RC_pairs": 1,
        "soc0": STATE,
        "capacity": CAPACITY / 3600.0,
        "ce": 1.0,
        "gamma": 0.0,
        "mass": 0.032,
        "isothermal": True,
        "Cp": 1000.0,
        "T_inf": 298.15,
        "h_therm": 0.0,
        "A_therm": 1.0,
        "ocv": lambda soc: np.interp(soc, states, voltages),
        "M_hyst": lambda soc: 0.0,
        "R0": lambda soc, T: OHMIC,
        "R1": lambda soc, T: POLARISATION,
        "C1": lambda soc, T: TAU / POLARISATION,
    }

    def run() -> float:
        with warnings_of_others():
            simulation = thevenin.Simulation(parameters)
            experiment = thevenin.Experiment()
            experiment.add_step("current_A", -CURRENT, (7200.0, every), limits=("voltage_V", END_VOLTAGE))
            experiment.add_step("voltage_V", END_VOLTAGE, (3600.0, every), limits=("current_A", -END_CURRENT))
            solution = simulation.run(experiment)
        return float(solution.vars["time_s"][-1])

    return run


def thousand(rng: np.random.Generator) -> tuple[np.ndarray, ...]:
    """States, capacities, R0, R1, τ and a current of 1,000 packs, 5 to 40 mΩ·Ah, charged at 0.5C to 3C."""
    capacity = 3600.0 * rng.uniform(1.0, 6.0, 1000)
    ohmic = 3.6 * rng.uniform(5.0, 40.0, 1000) / capacity
    current = capacity / 3600.0 * rng.uniform(0.5, 3.0, 1000)
    return rng.uniform(0.05, 0.6, 1000), capacity, ohmic, 0.5 * ohmic, np.full(1000, 30.0), current


def main() -> int:
    assert LIPO is not None
    rows: list[tuple[str, float, str]] = []
    ours = cpu(one_charge)
    other = one_charge_elsewhere()
    rows.append((f"one charge with its curve of {POINTS} points", ours, ""))
    if other is None:
        rows.append(("the same by thevenin: not installed", float("nan"), ""))
    else:
        theirs = cpu(other)
        rows.append(("the same by thevenin 0.2.1, default tolerance", theirs, f"{theirs / ours:.0f} times"))
        end = other()
        print(f"The charge ends after {one_charge()[0]:.3f} s here, {end:.3f} s there.\n")
    *packs, current = thousand(np.random.default_rng(1))
    many = cpu(lambda: charges(LIPO, *packs, current, END_VOLTAGE, 0.1 * current))
    rows.append(("1,000 charges at once", many, f"{1e3 * many:.1f} µs each"))
    single = cpu(lambda: charge(pack(1, STATE), CURRENT, END_VOLTAGE, END_CURRENT))
    rows.append(("one charge without a curve", single, f"{1000.0 * single / many:.0f} times one of 1,000"))
    rows.append(("sag after 10 s at constant current", cpu(lambda: loaded(pack(), 10.0, current=20.0)), ""))
    rows.append(("sag after 10 s at constant power", cpu(lambda: loaded(pack(), 10.0, power=300.0)), ""))
    rows.append(("time to the floor at constant current", cpu(lambda: time_to_floor(pack(), 3.3, current=10.0)), ""))
    rows.append(("time to the floor at constant power", cpu(lambda: time_to_floor(pack(), 3.3, power=150.0)), ""))
    draw = 5.0 * current
    for words, kind in (("current", {"currents": draw}), ("power", {"powers": 3.7 * draw})):
        rows.append((f"1,000 sags at constant {words}", cpu(lambda k=kind: loaded_many(LIPO, *packs, 10.0, **k)), ""))
        floor = cpu(lambda k=kind: time_to_floor_many(LIPO, *packs, 3.3, **k))
        rows.append((f"1,000 times to the floor at constant {words}", floor, ""))
    warm = Warming(mass=0.032, start=298.15, ambient=298.15, cooling=0.1, entropy=-0.235e-3)
    for words, phases in (
        ("constant current", [Phase(current=10.0)]),
        ("constant power", [Phase(power=150.0)]),
        ("30 s at 300 W, 60 s at 60 W in turn", [Phase(power=300.0, duration=30.0), Phase(power=60.0, duration=60.0)]),
    ):
        job = lambda s=phases: flight(pack(), s, floor=3.3, reserve=0.2, limit_temperature=333.15, warming=warm)  # noqa: E731
        rows.append((f"flight at {words}, warming", cpu(job), ""))
    whole = job()
    times = np.linspace(0.0, whole.time, POINTS)
    rows.append((f"its curve of {POINTS} points", cpu(lambda: whole.curve(times)), ""))
    width = max(len(words) for words, _, _ in rows)
    print(f"{'':{width}}  CPU, ms")
    for words, seconds, note in rows:
        print(f"{words:{width}}  {1e3 * seconds:7.3f}  {note}".rstrip())
    return 0


if __name__ == "__main__":
    sys.exit(main())
