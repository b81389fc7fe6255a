"""How sure results are: the bands that several calculators share."""

from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from ampstead.declare import Band
from ampstead.inputs.pack import Pack
from ampstead.judging.doubts import EFFICIENCIES
from ampstead.sketch import Span
from ampstead.words import between


def supply_band(peak_power: float, efficiency: float) -> Iterator[Band]:
    """The supply's side of a charge, where the efficiency is an everyday one."""
    low, high = EFFICIENCIES
    if low <= efficiency <= high and peak_power > 0:
        basis = "chargers pass on 80 to 95 percent of their input; common practice, no published source"
        yield Band("supply_power", peak_power / high, peak_power / low, basis)


BURST_ERROR = 0.40
"""Part by which a burst's current errs. Comparison with full electrochemical models, made for this project."""


def model_error(rate: float) -> float:
    """Part by which sag with a constant resistance errs on a real pack, by discharge rate.

    13 % up to 5C, 30 % to 10C, 40 % beyond: comparison of constant-resistance models with full electrochemical
    ones of power cells, made for this project.
    """
    return 0.13 if rate <= 5 else 0.30 if rate <= 10 else 0.40


def resistance_factors(pack: Pack, given: frozenset[str]) -> tuple[float, float]:
    """Least and most of the true resistance over the one used: method, temperature, and guess if not given."""
    low, high = pack.resistance_band()
    band = pack.kind.resistance_charge_band
    if not {"cell_resistance", "pack_resistance"} & given and band:
        known = pack.cell_resistance is not None and pack.capacity is not None
        taken = float(np.max(pack.cell_resistance * pack.capacity)) if known else pack.kind.resistance_charge  # type: ignore[operator]
        low *= band[0] / taken
        high *= band[1] / taken
    return low, high


def resistance_edges(factors: tuple[float, float], rate: float) -> tuple[tuple[float, float], str]:
    """Least and most of a resistance over the one used, the model's error at this rate counted, and why."""
    error = model_error(rate)
    span = f", and the resistance may be {factors[0]:.2g} to {factors[1]:.2g} of the figure used"
    basis = (
        f"a constant resistance errs by about {error * 100:.0f} percent at this rate"
        f"{span if factors != (1, 1) else ''}; this project's own judgement"
    )
    return (factors[0] * (1 - error), factors[1] * (1 + error)), basis


def sag_band(name: str, rest: float, drop: float, rate: float, factors: tuple[float, float]) -> Band:
    """The voltage left after a drop in the pack, given how sure its resistance and the model are; never below none."""
    (least, most), basis = resistance_edges(factors, rate)
    return Band(name, max(0.0, rest - drop * most), max(0.0, rest - drop * least), basis)


def band_over(name: str, answer: float, edges: Iterable[float], basis: str) -> Band:
    """The band of a result from the answers at the edges of what it rests on; it always holds the answer itself."""
    every = (answer, *edges)
    return Band(name, min(every), max(every), basis)


def end_span(bands: Mapping[str, Band]) -> Span | None:
    """Where the time of a charge or discharge may end, for its picture."""
    band = bands.get("time_total")
    return None if band is None else Span(band.low, band.high, f"ends in {between(band.low, band.high)}")
