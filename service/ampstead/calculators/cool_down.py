"""How long until a hot pack is cool enough to charge."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.declare import Band, Caution, Group, Quantity, derived
from ampstead.inputs.pack import ChemistryName, Pack
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

ASKED = "How long must a hot pack cool down?"
WHEN = ("at the field", 50)
MAIN = ("time_to_target",)
SOURCES = (
    "Conduction in a plane wall that gives its heat to air: Incropera, DeWitt, Fundamentals of Heat and Mass Transfer "
    "(from memory); compared with the method of lines by scipy",
    "What air takes: 2 to 25 W/m²K free, 25 to 250 forced (Çengel, publisher's notes); which of it a pack meets, its "
    "shape and its conductivity: this project's own judgement",
    "Specific heat 1000 J/kgK: published stack values 953 (Ai et al. 2020) and 1069 (Ecker et al. 2015)",
    "No lithium charge above 40 degrees: NFPA, quoted by the US Fire Administration",
)
EXAMPLES = (
    {"cells": 3, "capacity": "2250 mAh", "temperature": "52 °C", "ambient": "13 °C"},
    {"cells": 6, "capacity": "4900 mAh", "temperature": "57 °C", "ambient": "33 °C", "surroundings": "draught"},
)
SLACK = 1e-9
NEAR = 1.0
"""K: air so little warmer than what is asked brings a pack close to it, though never there."""
OVERHEATED = 333.15
"""60 °C: no cell should pass it in flight (common in cell data sheets)."""


def usual_target(chemistry: ChemistryName) -> float:
    """The hottest at which a charge may be started."""
    return CHEMISTRIES[chemistry].charge_band.hottest


CHECKS = (air_takes_something,)


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolDown:
    time_to_target: Annotated[
        float | None,
        Quantity(
            "min",
            "Time until the middle of the pack is at the target; 0 where it is there, none where the air is too warm.",
            spoken="up",
        ),
    ]
    skin_temperature: Annotated[
        float | None,
        Quantity("°C", "What its skin has then come to, where a thermometer reads; none with the time.", spoken="down"),
    ]
    time_to_halve: Annotated[
        float, Quantity("min", "Time in which the difference to the air halves, once the start is over.", spoken="up")
    ]
    _passage: Passage


def cool_down(
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
    target_temperature: TargetTemperature = derived(usual_target, "the hottest at which this chemistry is charged"),
    surroundings: SurroundingsInput = "still-air",
    thermal: Annotated[Thermal, in_air()],
) -> CoolDown:
    """How long a pack needs in air until its middle is cool enough.

        theta(x, t) = sum(C_n * exp(-zeta_n**2 * Fo) * cos(zeta_n * x / L)),  zeta * tan(zeta) = h * L / k    (1)
        T(x, t)     = ambient + (T(0) - ambient) * theta(x, t)                                                (2)

    The pack is a block at one temperature throughout, that rests: a wall of half thickness L that gives all its heat
    through its two broad faces, so the middle is the last to cool. Its thickness follows from its mass. A thermometer
    reads the skin, which runs ahead of the middle. Range: one pack alone; several in one box warm each other.
    """
    passage = Passage.of(pack, thermal, target_temperature)
    time = 0.0 if pack.temperature <= target_temperature + SLACK else passage.time()
    return CoolDown(
        time_to_target=time,
        skin_temperature=None if time is None else passage.skin(time) if time else pack.temperature,
        time_to_halve=passage.slab.halving,
        _passage=passage,
    )


def sentence(
    answer: CoolDown,
    *,
    pack: Pack,
    thermal: Thermal,
    target_temperature: float,
    surroundings: Surroundings,
    bands: Mapping[str, Band],
) -> str:
    """The answer as spoken."""
    named, target = f"this {pack.kind.words} pack", degrees(target_temperature, "down")
    if answer.time_to_target is None and thermal.ambient - target_temperature < NEAR - SLACK:
        return (
            f"In air of {degrees(thermal.ambient, 'up')} {named} never cools to {target}, though it comes near: "
            "find it a cooler place, or ask for a little more."
        )
    if answer.time_to_target is None:
        return f"In air of {degrees(thermal.ambient, 'up')} {named} never cools to {target}: find it a cooler place."
    if answer.time_to_target == 0 or answer.skin_temperature is None:
        return f"At {degrees(pack.temperature)} {named} is cool enough already, if that holds for its middle too."
    band = bands["time_to_target"]
    where = f"{AIRS[surroundings].words} of {degrees(thermal.ambient)}"
    return sentences(
        f"Let {named} cool for {duration(answer.time_to_target, 'up')} {where}, likely {between(band.low, band.high)}.",
        f"Its middle is then at {target}, its skin at {degrees(answer.skin_temperature, 'down')}.",
    )


OWN_CAUTIONS: Table = {
    # USFA: stop using on too much heat (retrieved); Seattle Fire Department: move it outside if safe (retrieved).
    "overheated": (
        "danger",
        "A pack this hot may fail while it lies: put it outdoors on ground that cannot burn, keep away from it, and "
        "watch it until it is cool. Find out what overheated it before it flies again.",
    ),
    "air-too-warm": ("warning", "Out of the sun and out of the car: in this air the pack never gets cool enough."),
    # Common practice, no published source.
    "no-cold-bath": (
        "note",
        "No water, ice or refrigerator: wet gets into the pack, and its skin is cold while its middle is still hot.",
    ),
    # This project's own judgement, from Eq. (1).
    "skin-misleads": (
        "warning",
        "A thermometer reads the skin: just after a flight the middle is warmer, so wait a few minutes and read again.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"no-cold-bath", "skin-misleads"})


def cautions(answer: CoolDown, *, pack: Pack) -> Iterator[Caution]:
    """What to heed."""
    if pack.temperature > OVERHEATED + SLACK:
        yield caution("overheated")
    if answer.time_to_target is None:
        yield caution("air-too-warm")
    yield caution("skin-misleads")
    yield caution("no-cold-bath")


def accuracy(
    answer: CoolDown, *, pack: Pack, thermal: Thermal, surroundings: Surroundings, given: frozenset[str]
) -> Iterator[Band]:
    """How sure the time is: what the air takes."""
    if answer.time_to_target:
        yield passage_band(answer._passage, pack, thermal, surroundings, given)


def curve(answer: CoolDown) -> Course:
    """Its course to a third beyond the target, or over three halvings."""
    return course(answer._passage, answer.time_to_target, answer.time_to_halve)


def picture(answer: CoolDown, *, thermal: Thermal, target_temperature: float, bands: Mapping[str, Band]) -> Chart:
    """Middle and skin over time, the target and the air marked."""
    return chart("Cooling", Limit(target_temperature, "cool enough"), Limit(thermal.ambient, "air"), bands)
