"""How sure results are: the bands that several calculators share."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ampstead.cell.kinds.resistance import ACTIVATION, temperature_ratio
from ampstead.cell.one.series import SeriesPack
from ampstead.declare import Band
from ampstead.inputs.pack import Pack, usual_cell_resistance
from ampstead.inputs.surroundings import Passage, Surroundings
from ampstead.inputs.warming import Thermal
from ampstead.judging.doubts import Edges, edges, error
from ampstead.sketch import Span
from ampstead.words import between


def efficiency_edges(efficiency: float) -> Edges | None:
    """What a charger may pass on of its input, told or not; None of one that is not an everyday one."""
    low, high = edges("efficiency", efficiency, ())
    return (low, high) if low <= efficiency <= high else None


def supply_band(peak_power: float, efficiency: float) -> Iterator[Band]:
    """The supply's side of a charge, where the efficiency is an everyday one."""
    everyday = efficiency_edges(efficiency)
    if everyday is not None and peak_power > 0:
        basis = "chargers pass on 80 to 95 percent of their input; common practice, no published source"
        yield Band("supply_power", peak_power / everyday[1], peak_power / everyday[0], basis)


def model_edges(rate: float) -> tuple[float, float]:
    """Least and most of what a constant resistance makes of a real pack, by discharge rate: it errs more at higher."""
    return error(f"resistance {'to 5C' if rate <= 5 else 'to 10C' if rate <= 10 else 'beyond 10C'}")


def model_error(rate: float) -> float:
    """The same as one part, of the side that sags more."""
    return model_edges(rate)[1] - 1


def slow_part_over(pack: Pack, given: frozenset[str]) -> float:
    """Most of the slow part over the one assumed, felt over a whole flight: lithium-ion cells are made for energy."""
    assumed = pack.chemistry == "liion" and "polarisation_resistance" not in given
    return error("slow part of an energy cell")[1] if assumed else 1.0


def resistance_factors(pack: Pack, given: frozenset[str]) -> tuple[float, float]:
    """Least and most of the true resistance over the one used: method, temperature, and guess if not given."""
    low, high = error(f"resistance by {pack.resistance_method}")
    if pack.temperature != pack.resistance_temperature:
        used, mild, steep, steepest = (
            float(temperature_ratio(pack.temperature, pack.resistance_temperature, ACTIVATION * part))
            for part in (1.0, *error("activation"), error("activation in the cold")[1])
        )
        low, high = low * min(mild, steep) / used, high * max(mild, steepest) / used
    if not {"cell_resistance", "pack_resistance"} & given and pack.cell_resistance is not None:
        told = {"chemistry": pack.chemistry, "capacity": pack.capacity}
        least, most = (
            edge / pack.cell_resistance for edge in edges("cell_resistance", pack.cell_resistance, given, told)
        )
        if isinstance(least, np.ndarray):
            least, most = float(np.min(least)), float(np.max(most))
        low, high = low * least, high * most
    return low, high


_RESISTANCE = frozenset({"cell_resistance"})


def resistance_told(pack: Pack) -> frozenset[str]:
    """The name of the resistance, but where it is the cautious guess and no figure of the pack's own: for packs among
    others, of which only their values are at hand.

    One that equals the guess to the last digit counts as a guess, which is the safe side.
    """
    guess = usual_cell_resistance(pack.chemistry, pack.capacity, pack.pack_resistance)
    guessed = guess is not None and np.array_equal(guess, np.asarray(pack.cell_resistance))
    return frozenset() if guessed else _RESISTANCE


@dataclass(frozen=True, slots=True)
class Resisting:
    """Resistances of a pack at an edge of what they may be: factors on both parts, and the time of the slow one."""

    ohmic: float = 1.0
    slow: float = 1.0
    time: float | None = None
    """s; as told where None."""

    def of(self, cells: SeriesPack) -> SeriesPack:
        """A pack with resistances so."""
        time = cells.time_constant if self.time is None else self.time
        return cells.resisting(self.ohmic, self.slow, time)


AS_TOLD = Resisting()


def resisting(
    pack: Pack, given: frozenset[str], model: tuple[float, float] = (1.0, 1.0)
) -> tuple[Resisting, Resisting]:
    """A pack's resistances at the least and the most that they may be, ``model`` being how far the model errs.

    The model was compared with the slow part as it is assumed, so that of the two only the wider counts. A slow part
    that comes sooner is the more resistance.
    """
    origin = resistance_factors(pack, given)
    slow = (1.0, 1.0)
    times: tuple[float | None, float | None] = (None, None)
    if "polarisation_resistance" not in given:
        least, most = edges("polarisation_resistance", 1.0, given)
        slow = least, most
    if "polarisation_time" not in given:
        soonest, latest = edges("polarisation_time", pack.polarisation_time, given)
        times = latest, soonest
    return (
        Resisting(origin[0] * model[0], origin[0] * min(model[0], slow[0]), times[0]),
        Resisting(origin[1] * model[1], origin[1] * max(model[1], slow[1]), times[1]),
    )


def resistance_words(pack: Pack, given: frozenset[str], rate: float) -> str:
    """Why a band has those edges of the resistance."""
    low, high = resistance_factors(pack, given)
    span = f", and the resistance may be {low:.2g} to {high:.2g} of the figure used" if (low, high) != (1, 1) else ""
    slow = "" if "polarisation_resistance" in given else ", its slow part be 30 percent off"
    return (
        f"a constant resistance errs by about {model_error(rate) * 100:.0f} percent at this rate{span}{slow}; this "
        "project's own judgement"
    )


def passage_band(
    passage: Passage, pack: Pack, thermal: Thermal, surroundings: Surroundings, given: frozenset[str]
) -> Band:
    """How sure a passage's time is: what the air takes, and what a pack weighs that nobody has weighed."""
    times = []
    for mass, side in zip(edges("cell_mass", thermal.cell_mass, given), (1, 0), strict=True):
        if "cooling" in given:
            cooling = thermal.cooling * error("cooling")[side]
        else:
            cooling = edges("cooling", thermal.cooling, given, {"surroundings": surroundings})[side]
        other = replace(thermal, cell_mass=mass, cooling=cooling)
        times.append(Passage.of(pack, other, passage.target).time())
    quick, slow = times
    assert quick is not None
    assert slow is not None
    told = "a cooling that is 30 percent off" if "cooling" in given else "the most and the least that such air takes"
    weighed = "" if "cell_mass" in given else ", of a pack as light or as heavy as it may be"
    return Band("time_to_target", quick, slow, f"with {told}{weighed}; this project's own judgement")


def band_over(name: str, answer: float, edges: Iterable[float], basis: str) -> Band:
    """The band of a result from the answers at the edges of what it rests on; it always holds the answer itself."""
    every = (answer, *edges)
    return Band(name, min(every), max(every), basis)


def end_span(bands: Mapping[str, Band]) -> Span | None:
    """Where the time of a charge or discharge may end, for its picture."""
    band = bands.get("time_total")
    return None if band is None else Span(band.low, band.high, f"ends in {between(band.low, band.high)}")
