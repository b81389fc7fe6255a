"""How long until a cold pack is warm enough to fly."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated

from ampstead.cell.limits.charge_bands import is_cool, is_too_cold
from ampstead.declare import Band, Caution, Group, Quantity
from ampstead.inputs.pack import Pack
from ampstead.inputs.surroundings import (
    AIRS,
    Course,
    Passage,
    Surroundings,
    SurroundingsInput,
    TargetTemperature,
    air_takes_something,
    chart,
    course,
    in_air,
)
from ampstead.inputs.warming import Thermal
from ampstead.judging.bands import passage_band
from ampstead.judging.cautions import Table
from ampstead.judging.cautions import caution as shared
from ampstead.sketch import Chart, Limit
from ampstead.words import between, degrees, duration, sentences

ASKED = "How long must a cold pack warm up?"
WHEN = ("at the field", 40)
MAIN = ("time_to_target",)
SOURCES = (
    "Conduction in a plane wall that takes its heat from air: Incropera, DeWitt, Fundamentals of Heat and Mass "
    "Transfer (from memory); compared with the method of lines by scipy",
    "What air gives: 2 to 25 W/m²K free, 25 to 250 forced (Çengel, publisher's notes); which of it a pack meets, its "
    "shape and its conductivity: this project's own judgement",
    "Specific heat 1000 J/kgK: published stack values 953 (Ai et al. 2020) and 1069 (Ecker et al. 2015)",
    "20 degrees for flying: this project's own judgement; resistance is then within a seventh of that at 25, by "
    "20 kJ/mol (general lithium-ion, tables shipped by simses 1.3, BSD-3)",
)
EXAMPLES = (
    {"cells": 3, "capacity": "1150 mAh", "temperature": "4 °C", "ambient": "33 °C", "surroundings": "box"},
    {"cells": 4, "capacity": "3700 mAh", "temperature": "13 °C", "ambient": "25 °C"},
)
SLACK = 1e-9
WARM_ENOUGH = 293.15
NEAR = 1.0
"""K: air so little colder than what is asked brings a pack close to it, though never there."""
HARMFUL = 318.15
"""45 °C: the skin would pass what a pack should stand before its middle is warm. This project's own judgement."""

CHECKS = (air_takes_something,)


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmUp:
    time_to_target: Annotated[
        float | None,
        Quantity(
            "min",
            "Time until the middle of the pack is at the target; 0 where it is there, none where the air is too cold, "
            "or so hot that it harms the pack.",
            spoken="up",
        ),
    ]
    skin_temperature: Annotated[
        float | None,
        Quantity("°C", "What its skin has then come to, where a thermometer reads; none with the time.", spoken="up"),
    ]
    time_to_halve: Annotated[
        float, Quantity("min", "Time in which the difference to the air halves, once the start is over.", spoken="up")
    ]
    _passage: Passage


def warm_up(
    *,
    pack: Annotated[
        Pack,
        Group(
            name="pack",
            only=("chemistry", "cells", "capacity", "temperature"),
            require=("cells", "capacity", "temperature"),
            defaults={"temperature": None},
        ),
    ],
    target_temperature: TargetTemperature = WARM_ENOUGH,
    surroundings: SurroundingsInput = "still-air",
    thermal: Annotated[Thermal, in_air()],
) -> WarmUp:
    """How long a pack needs in warm air until its middle is warm enough.

        theta(x, t) = sum(C_n * exp(-zeta_n**2 * Fo) * cos(zeta_n * x / L)),  zeta * tan(zeta) = h * L / k    (1)
        T(x, t)     = ambient + (T(0) - ambient) * theta(x, t)                                                (2)

    The pack is a block at one temperature throughout, that rests: a wall of half thickness L that takes all its heat
    through its two broad faces, so the middle is the last to warm. Its thickness follows from its mass. A thermometer
    reads the skin, which runs ahead of the middle. Range: one pack alone; several in one box hold each other back.
    """
    passage = Passage.of(pack, thermal, target_temperature)
    there, harmful = pack.temperature >= target_temperature - SLACK, thermal.ambient > HARMFUL + SLACK
    time = 0.0 if there else None if harmful else passage.time()
    return WarmUp(
        time_to_target=time,
        skin_temperature=None if time is None else passage.skin(time) if time else pack.temperature,
        time_to_halve=passage.slab.halving,
        _passage=passage,
    )


def sentence(
    answer: WarmUp,
    *,
    pack: Pack,
    thermal: Thermal,
    target_temperature: float,
    surroundings: Surroundings,
    bands: Mapping[str, Band],
) -> str:
    """The answer as spoken."""
    named, target = f"this {pack.kind.words} pack", degrees(target_temperature, "up")
    if answer.time_to_target is None and thermal.ambient > HARMFUL + SLACK:
        return f"Do not warm {named} in air of {degrees(thermal.ambient, 'up')}: find it a milder place."
    if answer.time_to_target is None and target_temperature - thermal.ambient < NEAR - SLACK:
        return (
            f"In air of {degrees(thermal.ambient, 'down')} {named} never warms to {target}, though it comes near: "
            "find it a warmer place, or ask for a little less."
        )
    if answer.time_to_target is None:
        return f"In air of {degrees(thermal.ambient, 'down')} {named} never warms to {target}: find it a warmer place."
    if answer.time_to_target == 0 or answer.skin_temperature is None:
        return f"At {degrees(pack.temperature)} {named} is warm enough already, if that holds for its middle too."
    band = bands["time_to_target"]
    where = f"{AIRS[surroundings].words} of {degrees(thermal.ambient)}"
    return sentences(
        f"Warm {named} for {duration(answer.time_to_target, 'up')} {where}, likely {between(band.low, band.high)}.",
        f"Its middle is then at {target}, its skin at {degrees(answer.skin_temperature, 'up')}.",
    )


OWN_CAUTIONS: Table = {
    # This project's own judgement.
    "place-too-hot": (
        "danger",
        "No pack belongs in air above 45 degrees: its skin overheats before its middle is warm.",
    ),
    "air-too-cold": ("warning", "This place is no warmer than what the pack is to come to."),
    # USFA quoting NFPA: do not charge below 0 degrees (retrieved).
    "not-charged-cold": (
        "danger",
        "Do not charge it before its middle is warm: a skin that reads warm says nothing of the inside.",
    ),
    # Fire services: away from heat and very high temperatures (Cumbria Fire & Rescue; retrieved).
    "no-direct-heat": (
        "warning",
        "Warm a pack in warm air alone, watched: never on a heater, by a flame, in hot water or on a car's dashboard.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"no-direct-heat"})


def cautions(answer: WarmUp, *, pack: Pack, thermal: Thermal) -> Iterator[Caution]:
    """What to heed."""
    if thermal.ambient > HARMFUL + SLACK:
        yield caution("place-too-hot")
    elif answer.time_to_target is None:
        yield caution("air-too-cold")
    if is_too_cold(pack.kind, pack.temperature) or is_cool(pack.kind, pack.temperature):
        yield caution("not-charged-cold")
    yield caution("no-direct-heat")


def accuracy(
    answer: WarmUp, *, pack: Pack, thermal: Thermal, surroundings: Surroundings, given: frozenset[str]
) -> Iterator[Band]:
    """How sure the time is: what the air gives."""
    if answer.time_to_target:
        yield passage_band(answer._passage, pack, thermal, surroundings, given)


def curve(answer: WarmUp) -> Course:
    """Its course to a third beyond the target, or over three halvings."""
    return course(answer._passage, answer.time_to_target, answer.time_to_halve)


def picture(answer: WarmUp, *, thermal: Thermal, target_temperature: float, bands: Mapping[str, Band]) -> Chart:
    """Middle and skin over time, the target and the air marked."""
    return chart("Warming", Limit(target_temperature, "warm enough"), Limit(thermal.ambient, "air"), bands)
