"""The one verdict on a charge: every charging calculator has it, and its rules have the figures agreed on.

The rules are this project's own judgement or the published limits that ``charge_bands`` names; what is held here is
that all calculators apply the same ones. No figure of a test comes from the code.
"""

import random
from collections.abc import Mapping
from typing import Any

import pytest
from profiles import count
from tests.reference.asking import cautions, refusals, reply, spoken

from ampstead.calculators import registry
from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.replying.answers import Answered, answered

PACKS = count(500, 2100)
REFUSED = (
    {"cell_voltages": "3.8,3.8,2.3 V"},
    {"cell_voltages": "3.8,3.8,4.3 V"},
    {"cell_voltages": "3.8,3.8,3.6 V", "condition": "wet"},
)
CONDITIONS = ("swollen", "damaged", "wet", "crashed")
# Volts between which a random cell at rest is drawn: from dead to well above full.
RANGES = {"lipo": (2.2, 4.4), "lihv": (2.2, 4.5), "liion": (2.2, 4.4), "life": (1.7, 3.75), "lead": (1.85, 2.3)}


def random_pack(dice: random.Random) -> dict[str, Any]:
    """A pack of any kind, warmth, body and state, its cells odd or even."""
    chemistry = dice.choice(tuple(RANGES))
    low, high = RANGES[chemistry]
    cells = dice.randint(1, 6)
    pack: dict[str, Any] = {
        "chemistry": chemistry,
        "cells": cells,
        "capacity": f"{dice.choice([350, 1150, 2250, 3700, 38000])} mAh",
        "temperature": f"{dice.choice([-20, -15, -5, -0.1, 0, 5, 10, 10.1, 20, 25, 33, 40, 40.1, 45, 60])} °C",
    }
    if dice.random() < 0.15:
        pack["condition"] = dice.choice(CONDITIONS)
    told, level = dice.random(), dice.uniform(low, high)
    if told < 0.15:
        pack["state_of_charge"] = round(dice.random(), 2)
    elif told < 0.35:
        pack["rest_voltage"] = f"{cells * level:.3f} V"
    else:
        each = [level + dice.uniform(-0.01, 0.01) for _ in range(cells)]
        if dice.random() < 0.4:
            each[dice.randrange(cells)] = dice.uniform(low, high)
        pack["cell_voltages"] = [f"{voltage:.3f} V" for voltage in each]
    return pack


def asked(name: str, **question: Any) -> Answered:
    return answered(registry()[name], question)


def dangers(got: Answered) -> set[str]:
    """Codes of the dangers that the question brought up."""
    listed = got.envelope()["cautions"]
    return {entry["code"] for entry in listed if entry["severity"] == "danger" and not entry["standing"]}


def test_all_charging_calculators_agree_about_any_pack() -> None:
    dice = random.Random(20)
    seen: dict[str, int] = {}
    for place in range(PACKS):
        pack = random_pack(dice)
        state = {name for name in ("state_of_charge", "rest_voltage", "cell_voltages") if name in pack}
        told = pack if state else pack | {"state_of_charge": 0.2}
        alone = asked("charge-current", **told)
        seen[alone.answer.limited_by] = seen.get(alone.answer.limited_by, 0) + 1
        agrees_by_temperature(told, alone)
        agrees_on_the_bench(told, alone)
        agrees_in_storage(told, alone)
        agrees_at_the_field(told, alone)
        if place % 2 == 0:
            agrees_in_company(told, alone)
    # Every rule of the pack itself was met.
    assert {"asked-rate", "full", "temperature", "suspect-cell", "low-cell", "cell-count", "condition"} <= seen.keys()


def agrees_by_temperature(pack: Mapping[str, Any], alone: Answered) -> None:
    got = asked("charge-temperature", **pack)
    assert got.answer.allowed == (alone.answer.current > 0), pack
    assert got.answer.rate_limit == pytest.approx(alone.answer.rate), pack
    assert got.answer.stop_temperature == alone.answer.stop_temperature
    if got.answer.allowed:
        assert pack["cells"] * got.answer.charge_voltage_limit == pytest.approx(alone.answer.end_voltage), pack
    assert dangers(got) == dangers(alone), pack


def agrees_on_the_bench(pack: Mapping[str, Any], alone: Answered) -> None:
    got = asked("wattage", **{name: pack[name] for name in pack if name in registry()["wattage"].inputs})
    unsound = "condition" in pack
    assert (got.answer.peak_power == 0) == unsound, pack
    assert unsound <= (alone.answer.current == 0), pack
    assert dangers(got) == ({pack["condition"]} if unsound else set())


def agrees_in_storage(pack: Mapping[str, Any], alone: Answered) -> None:
    got = asked("storage", **pack, target_state=1)
    assert got.answer.action != "discharge", pack
    if got.answer.action == "charge":
        assert got.answer._plan.current == pytest.approx(alone.answer.current), pack
        assert (got.answer.time_total is None) == (alone.answer.current == 0 or pack["chemistry"] == "lead"), pack
        assert pack["cells"] * got.answer._plan.verdict.end_cell_voltage == pytest.approx(alone.answer.end_voltage)
        assert dangers(alone) <= dangers(got), pack
        assert got.sentence().startswith(("Do not charge", "First ")) == (alone.answer.current == 0), pack


def agrees_at_the_field(pack: Mapping[str, Any], alone: Answered) -> None:
    if pack["chemistry"] == "lead":
        return
    source = {"source_chemistry": "lead", "source_cells": 6, "source_capacity": "38 Ah"}
    got = asked("field-energy", **pack, **source)
    (kind,) = got.answer._field.kinds
    assert kind.current == pytest.approx(alone.answer.current), pack
    assert (got.answer.energy_per_recharge > 0) == (alone.answer.current > 0), pack
    assert dangers(alone) <= dangers(got), pack


def agrees_in_company(pack: Mapping[str, Any], alone: Answered) -> None:
    twins = [dict(pack), dict(pack)]
    group, join = asked("group-charge", packs=twins), asked("parallel-join", packs=twins)
    assert group.answer.end_voltage == pytest.approx(alone.answer.end_voltage), pack
    if alone.answer.current == 0:
        assert group.answer.total_current == 0, pack
    for share in group.answer.packs:
        assert share.current <= alone.answer.current * (1 + 1e-5), pack
    usual = CHEMISTRIES[pack["chemistry"]].usual_rate
    for limit in join.answer._join.limits:
        # A join may charge at 1C where nothing in the pack forbids it, and beside a full pack.
        if alone.answer.limited_by in ("asked-rate", "full"):
            assert limit * 3.6 <= max(1.0, usual) * 1.0001 * float(pack["capacity"].split()[0]) * 3.6 / 1000, pack
        else:
            assert limit == pytest.approx(alone.answer.current), pack
    assert dangers(alone) <= dangers(group), pack
    assert dangers(alone) - {"rate-above-usual"} <= dangers(join), pack


FOUR = {"cells": 4, "capacity": "3700 mAh"}


def verdicts(**question: Any) -> tuple[float, str, set[str]]:
    got = reply("charge-current", **question)
    return got["answer"]["rate"], got["answer"]["limited_by"], {entry["code"] for entry in got["cautions"]}


@pytest.mark.parametrize(
    ("chemistry", "volts", "rate", "code"),
    [
        ("life", "2.4", 0.1, "low-cell"),
        ("life", "2.51", 1, None),
        ("life", "1.99", 0, "dead-cell"),
        ("lipo", "2.99", 0.1, "low-cell"),
        ("lipo", "2.49", 0, "dead-cell"),
        ("lipo", "0.0", 0, "dead-cell"),
    ],
)
def test_low_cells_are_judged_by_the_chemistrys_own_figures(
    chemistry: str, volts: str, rate: float, code: str | None
) -> None:
    got = verdicts(capacity="2100 mAh", chemistry=chemistry, cell_voltages=[f"{volts} V"] * 2)
    assert got[0] == pytest.approx(rate)
    assert {"low-cell", "dead-cell"} & got[2] == ({code} if code else set())


def test_a_low_iron_phosphate_cell_is_not_sent_to_recycling() -> None:
    told = reply("charge-current", chemistry="life", capacity="2100 mAh", cell_voltages="2.4,2.4 V")["cautions"]
    assert not any("recycling" in entry["text"] for entry in told)


def test_a_cell_far_off_limits_to_a_fifth_and_is_spoken_of() -> None:
    question = FOUR | {"cell_voltages": "3.85,3.84,3.86,3.10 V"}
    assert verdicts(**question)[:2] == (pytest.approx(0.2), "suspect-cell")
    said = spoken("charge-current", **question)
    assert "no more because cell 4 stands out at 3.1 volts" in said.split(";")[0]
    assert "suspect-cell" in cautions("charge-current", **question)


def test_a_pack_full_but_for_one_cell_is_not_just_full() -> None:
    question = FOUR | {"cell_voltages": "4.20,4.20,4.20,3.95 V"}
    assert verdicts(**question)[:2] == (0, "full")
    assert "it is full, and cell 4 stands out at 3.95 volts" in spoken("charge-current", **question)
    assert "suspect-cell" in cautions("charge-current", **question)


@pytest.mark.parametrize(("chemistry", "cells"), [("lipo", "3.70,3.70,3.69,3.70 V"), ("life", "3.40,3.60,3.42,3.45 V")])
def test_cells_that_belong_together_are_no_suspects(chemistry: str, cells: str) -> None:
    assert "suspect-cell" not in cautions("charge-current", **FOUR, chemistry=chemistry, cell_voltages=cells)


@pytest.mark.parametrize(
    ("question", "doubted"),
    [
        ({"cells": 2, "rest_voltage": "6.6 V"}, True),
        ({"cells": 2, "rest_voltage": "6.4 V"}, True),
        ({"cells": 2, "rest_voltage": "6.8 V"}, True),
        ({"cells": 2, "rest_voltage": "6.82 V"}, False),
        ({"cell_voltages": "3.31,3.29 V"}, True),
        ({"cell_voltages": "3.31,3.45 V"}, False),
        ({"cells": 2, "rest_voltage": "6.6 V", "chemistry": "life"}, False),
        ({"cells": 2, "rest_voltage": "6.6 V", "chemistry": "liion"}, False),
    ],
)
def test_a_lipo_pack_that_rests_like_an_iron_phosphate_one_is_asked_about(
    question: dict[str, Any], doubted: bool
) -> None:
    question = question | {"capacity": "2100 mAh"}
    for calculator in ("charge-current", "storage", "charge-left"):
        assert ("chemistry-in-doubt" in cautions(calculator, **question)) == doubted
    if (cells := question.get("cell_voltages")) is not None:
        known = question | {"cells": 2, "cell_resistance": "4 mΩ"}
        assert ("chemistry-in-doubt" in cautions("pack-fitness", **known)) == doubted
        assert ("chemistry-in-doubt" in cautions("balance-need", cell_voltages=cells)) == doubted
        stood = {"first_cell_voltages": cells, "second_cell_voltages": cells, "days": 9}
        assert ("chemistry-in-doubt" in cautions("standing-loss", **stood)) == doubted
        each = cells.removesuffix(" V").split(",")
        read = {"before": [f"{cell} V" for cell in each], "charge_returned": "900 mAh"}
        read["after"] = read["before"]
        assert ("chemistry-in-doubt" in cautions("capacity-check", **read)) == doubted
    assert ("lithium-iron-phosphate" in spoken("charge-current", **question).rpartition("Is this")[2]) == doubted or (
        question.get("chemistry") == "life"
    )


@pytest.mark.parametrize(
    ("volts", "code", "outdoors"),
    [
        ("16.80", None, False),
        ("16.85", "overcharged-slightly", False),
        ("16.88", "overcharged", False),
        ("17.00", "overcharged", False),
        ("17.20", "overcharged", True),
        ("19.59", "overcharged", True),
    ],
)
def test_a_pack_above_full_is_judged_by_what_charger_and_meter_may_err(
    volts: str, code: str | None, outdoors: bool
) -> None:
    question = FOUR | {"rest_voltage": f"{volts} V"}
    got = reply("charge-current", **question)
    assert (got["answer"]["current"]["value"], got["answer"]["limited_by"]) == (0, "full")
    told = {entry["code"]: entry for entry in got["cautions"]}
    assert {"overcharged", "overcharged-slightly"} & told.keys() == ({code} if code else set())
    if code:
        assert told[code]["severity"] == "danger"
        assert "o not charge" in told[code]["text"]
        assert ("outdoors" in told[code]["text"]) == outdoors


@pytest.mark.parametrize(
    ("chemistry", "finding", "beyond"),
    [("lipo", 4.89, 4.9), ("liion", 4.89, 4.9), ("lihv", 5.07, 5.08), ("life", 4.19, 4.2), ("lead", 2.79, 2.8)],
)
def test_a_cell_above_full_is_a_finding_up_to_where_no_cell_can_be(
    chemistry: str, finding: float, beyond: float
) -> None:
    question = {"capacity": "2250 mAh", "chemistry": chemistry}
    assert verdicts(**question, cell_voltages=[f"{finding} V"])[:2] == (0, "full")
    assert refusals("charge-current", **question, cell_voltages=[f"{beyond} V"]) == {("cell_voltages", "out_of_range")}


@pytest.mark.parametrize("calculator", ["charge-left", "balance-need", "pack-fitness", "sag", "endurance", "storage"])
def test_whoever_is_told_a_cell_above_full_says_so(calculator: str) -> None:
    question: dict[str, Any] = {"cell_voltages": "4.30,4.30,4.30 V"}
    if calculator != "balance-need":
        question |= {"cells": 3, "capacity": "2250 mAh"}
    if calculator == "pack-fitness":
        question["cell_resistance"] = "8.5 mΩ"
    if calculator in ("sag", "endurance"):
        question["current"] = "23 A"
    assert "overcharged" in cautions(calculator, **question)


@pytest.mark.parametrize("celsius", [-20, -11, -10, -5, 0, 5, 10, 11, 39, 40, 41, 60])
@pytest.mark.parametrize("chemistry", ["lipo", "lihv", "liion", "life", "lead"])
def test_charge_current_and_charge_temperature_agree_at_every_temperature(chemistry: str, celsius: int) -> None:
    question = {"chemistry": chemistry, "cells": 3, "capacity": "2250 mAh", "temperature": f"{celsius} °C"}
    one, other = (asked(name, **question) for name in ("charge-current", "charge-temperature"))
    assert one.answer.rate == pytest.approx(other.answer.rate_limit)
    if other.answer.allowed:
        assert one.answer.end_voltage == pytest.approx(3 * other.answer.charge_voltage_limit)
    assert dangers(one) == dangers(other)


@pytest.mark.parametrize(("chemistry", "volts"), [("lipo", 4.1), ("liion", 4.1), ("lihv", 4.25), ("life", 3.6)])
def test_the_cold_lowers_the_end_voltage_of_every_charge(chemistry: str, volts: float) -> None:
    cold = {"chemistry": chemistry, "cells": 3, "capacity": "2250 mAh", "temperature": "5 °C"}
    assert asked("charge-current", **cold).answer.end_voltage == pytest.approx(3 * volts)
    twins = [cold | {"state_of_charge": 0.2}] * 2
    assert asked("group-charge", packs=twins).answer.end_voltage == pytest.approx(3 * volts)
    stored = asked("storage", **cold, state_of_charge=0.2, target_state=1).answer
    assert stored.end_voltage <= 3 * volts * (1 + 1e-9)


def test_one_cold_pack_lowers_the_voltage_of_its_group() -> None:
    warm = {"cells": 3, "capacity": "2250 mAh", "state_of_charge": 0.3}
    got = asked("group-charge", packs=[warm, warm | {"temperature": "5 °C"}]).answer
    assert got.end_voltage == pytest.approx(12.3)


def test_storage_says_how_cold_or_hot_it_is() -> None:
    assert "very-cold" in cautions("storage", **FOUR, rest_voltage="16.6 V", temperature="-15 °C")
    for volts in ("16.6 V", "15.24 V", "14.4 V"):
        hot = FOUR | {"rest_voltage": volts, "temperature": "65 °C"}
        assert {"too-hot", "discharge-hot"} & set(cautions("storage", **hot))
        assert "let it cool" in spoken("storage", **hot)


def test_a_fifth_of_the_usual_is_said_only_where_it_is_true() -> None:
    cold = {"cells": 3, "capacity": "2250 mAh", "temperature": "5 °C"}
    assert "0.45 amperes, a fifth of the usual because it is cold" in spoken("charge-current", **cold, rate=2)
    gentle = spoken("charge-current", **cold, rate=0.1)
    assert "a fifth of the usual because" not in gentle
    low = cold | {"cell_voltages": "2.9,2.92,2.91 V"}
    assert "because a cell is very low" in spoken("charge-current", **low)


@pytest.mark.parametrize("condition", CONDITIONS)
def test_one_wording_tells_what_is_the_matter_with_a_pack(condition: str) -> None:
    pack = {"cells": 3, "capacity": "2250 mAh", "condition": condition}
    words = {"crashed": "it crashed", "wet": "it got wet"}.get(condition, f"it is {condition}")
    told = pack | {"state_of_charge": 0.3}
    field = {"source_chemistry": "lead", "source_cells": 6, "source_capacity": "38 Ah"}
    for said in (
        spoken("charge-current", **pack),
        spoken("charge-temperature", **pack, temperature="20 °C"),
        spoken("storage", **told),
        spoken("wattage", **pack),
        asked("group-charge", packs=[told, told]).sentence(),
        asked("parallel-join", packs=[told, told]).sentence(),
        spoken("field-energy", **told, **field),
    ):
        assert words in said
        assert "Do not" in said


def test_wattage_above_the_usual_rate_is_told_as_what_it_would_need() -> None:
    question = {"cells": 3, "capacity": "2250 mAh", "rate": "20C"}
    said = spoken("wattage", **question)
    assert said.startswith("To charge this lithium-polymer pack at 45 amperes, harder than the usual 1 C")
    assert "would draw" in said
    assert cautions("wattage", **question)[0] == "rate-above-usual"
    by_current = {"cells": 3, "capacity": "2250 mAh", "current": "45 A"}
    assert cautions("wattage", **by_current)[0] == "rate-above-usual"
    assert spoken("wattage", **(question | {"rate": 1})).startswith("Charge this")


def test_an_unsound_pack_asks_nothing_of_its_supply() -> None:
    question = {"cells": 3, "capacity": "2250 mAh", "condition": "swollen", "available_power": "100 W"}
    got = reply("wattage", **question)
    assert got["answer"]["supply_power"]["value"] == 0
    assert (got["answer"]["fits"], got["answer"]["overload"]) == (None, None)
    assert got["cautions"][0]["code"] == "swollen"
    assert reply("wattage", voltage="12.6 V", current="2 A", condition="wet")["answer"]["peak_power"]["value"] == 0


def test_a_charge_rate_as_large_as_a_discharge_rate_is_doubted() -> None:
    question = {"cells": 3, "capacity": "2250 mAh", "rate": "30C"}
    assert "label-rate-doubtful" in cautions("charge-current", **question, max_rate="30C")
    assert "label-rate-doubtful" not in cautions("charge-current", **question | {"rate": "2C"}, max_rate="30C")
    assert "label-rate-doubtful" not in cautions("charge-current", **question, max_rate="3C")


def test_limits_are_spoken_down_and_needs_up() -> None:
    said = spoken("charge-current", cells=3, capacity="2259 mAh", rate=1)
    assert "at 2.2 amperes" in said
    # 2.259 A × 12.6 V ÷ 0.85 = 33.49 W.
    assert "draws up to 33.5 watts" in said
    assert "2.259" not in said


@pytest.mark.parametrize(("celsius", "said"), [(-0.3, "minus 1 degree"), (40.3, "41 degrees")])
def test_a_temperature_beyond_the_band_is_not_spoken_as_its_edge(celsius: float, said: str) -> None:
    question = {"cells": 3, "capacity": "2250 mAh", "temperature": f"{celsius} °C"}
    assert said in spoken("charge-current", **question)
    assert said in spoken("charge-temperature", **question)


def test_a_pack_may_be_as_full_as_the_cold_allows() -> None:
    question = {"cells": 3, "capacity": "2250 mAh", "temperature": "5 °C", "rest_voltage": "12.45 V"}
    assert verdicts(**question)[:2] == (0, "full")
    assert "as full as the cold allows" in spoken("charge-current", **question)


def test_a_pack_voltage_needs_its_cells_in_charge_temperature_too() -> None:
    assert refusals("charge-temperature", temperature="20 °C", rest_voltage="11.31 V") == {("cells", "missing")}
    assert reply("charge-temperature", temperature="20 °C", chemistry="nimh", cells=6, rest_voltage="7.5 V")["answer"][
        "allowed"
    ]


@pytest.mark.parametrize("cells", REFUSED)
def test_no_caution_has_a_pack_charged_that_must_not_be(cells: dict[str, Any]) -> None:
    pack = {"cells": 3, "capacity": "2250 mAh", **cells}
    for name in ("charge-current", "storage"):
        assert not {"cells-differ", "cells-differ-little"} & set(cautions(name, **pack)), name
    assert "cells-differ" in cautions("charge-current", **pack | {"cell_voltages": "3.8,3.8,3.6 V", "condition": None})


@pytest.mark.parametrize("volts", ["8.4 V", "7.2 V"])
def test_where_the_number_of_cells_is_in_doubt_nothing_is_said_of_how_low_each_is(volts: str) -> None:
    told = cautions("charge-current", cells=3, capacity="2250 mAh", rest_voltage=volts)
    assert "cell-count" in told
    assert not {"low-cell", "dead-cell"} & set(told)
    # 2.8 and 2.4 volts suit no smaller number of cells where there is but one.
    told = cautions("charge-current", cells=1, capacity="2250 mAh", rest_voltage=f"{float(volts[:-2]) / 3} V")
    assert {"low-cell", "dead-cell"} & set(told)


def test_a_pack_that_is_not_to_be_stored_is_not_told_how() -> None:
    pack = {"cells": 3, "capacity": "2250 mAh", "rest_voltage": "12.6 V"}
    assert "stored-safely" in cautions("storage", **pack)
    assert "stored-safely" not in cautions("storage", **pack, condition="swollen")
    assert "stored-safely" not in cautions("storage", **pack | {"rest_voltage": None}, cell_voltages="3.8,3.8,2.3 V")


def test_cells_of_lead_acid_are_not_levelled_through_a_balance_lead() -> None:
    battery = {"chemistry": "lead", "cells": 2, "capacity": "7 Ah", "cell_voltages": "2.1,2.05 V"}
    texts = {entry["code"]: entry["text"] for entry in reply("charge-current", **battery)["cautions"]}
    assert "balance lead" not in texts["cells-differ"]


def test_a_pack_that_is_not_sound_is_not_even_charged_slowly() -> None:
    pack = {"cells": 3, "capacity": "2250 mAh", "cell_voltages": "3.8,3.8,3.2 V"}
    for name, more in (("charge-current", {}), ("storage", {}), ("pack-fitness", {"cell_resistance": "9 mΩ"})):
        texts = {
            condition: next(
                entry["text"]
                for entry in reply(name, **pack, **more, condition=condition)["cautions"]
                if entry["code"] == "suspect-cell"
            )
            for condition in ("sound", "swollen")
        }
        assert "Charge it slowly" in texts["sound"], name
        assert texts["swollen"].startswith("Do not fly or charge this pack again: cell 3 "), name
    told = spoken("overview", **pack, condition="swollen")
    assert "Charge it slowly" not in told
    assert "A swollen pack is finished" in told


def test_above_sixty_degrees_no_calculator_puts_a_load_on_a_pack_without_a_word() -> None:
    pack = {"cells": 3, "capacity": "2250 mAh"}
    asked: dict[str, dict[str, Any]] = {
        "sag": {**pack, "current": "20 A"},
        "alarm-voltage": {**pack, "current": "20 A"},
        "receiver-time": {**pack, "servos": 4, "servo_current": "0.3 A"},
        "let-down": {**pack, "state_of_charge": 1},
        "storage": {**pack, "state_of_charge": 1},
    }
    for name, question in asked.items():
        assert "discharge-hot" in cautions(name, **question, temperature="61 °C"), name
        assert "discharge-hot" not in cautions(name, **question, temperature="60 °C"), name
    last = {"flight_time": "7.5 min", "charge_returned": "1480 mAh", "capacity": "2250 mAh"}
    assert "discharge-hot" in cautions("flight-timer", **last, next_temperature="61 °C")
    hot = reply("receiver-time", **asked["receiver-time"], temperature="61 °C")
    assert hot["answer"]["verdict"] == "no-go"
    assert hot["sentence"].endswith("at 61 degrees it must not be loaded; let it cool first.")
