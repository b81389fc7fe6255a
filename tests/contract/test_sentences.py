"""Every sentence that a phone may speak, held to one set of rules: of all calculators, over random questions.

The rules are this project's own judgement. No sentence is compared with a fixed text.
"""

import re
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from contract.asked import asked
from reference.asking import client

from ampstead import words
from ampstead.calculators import registry
from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.limits.charge_bands import COOL_PART
from ampstead.declare import Number, Quantity, Result
from ampstead.inputs.pack import ROOM
from ampstead.words import Direction, Speaker

CALCULATORS = registry()

FORBIDDEN = re.compile(
    r"""
      [^\s"']*_[^\s]*                          # an identifier
    | [Ωµμ°²³×·±−≤≥→<>%$€#*^~|/\\=+(){}\[\]]   # what speech mangles
    | \d[eE][-+]?\d | (?<![a-z])-\d | \b(?:nan|inf|None|True|False)\b
    | \b(?:kelvin|mohm|mAh|lipo|lihv|liion|nimh|nicd|accuracy)\b
    | about\ up\ to | minus\ 0\b(?!\.)
    | \bat\ \S+\ degrees\ \d                    # "at 25 degrees 25 percent"
    | (?<![\d.])1\ (?:volts|amperes|watts|degrees|minutes|hours|seconds|millivolts|metres|days|milliohms|cells|packs)\b
    | \bone\ (?:cells|packs|loads|spares)\b
    | \b(\d[\d.]*)\ volts,\ (?:which\ is\ )?(?:above|below)\ its\ floor\ of\ \1\b(?!\.)
    | minus\ [\d.]+\ (?:volt|watt|ampere|milliohm|minute|second|hour|percent|milliampere|C)
    | \.\. | \ \ | \ [.,;:]
    """,
    re.VERBOSE,
)
MOST_SENTENCES = 3


def faultless(faults: list[str]) -> None:
    assert not faults, "\n".join([f"{len(faults)} faults, such as", *sorted(set(faults))[:8]])


def without_names(text: str, value: Any) -> str:
    """A text without what the question itself calls its packs and loads: people may write there what they like."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if key == "name" and isinstance(inner, str) and inner.strip():
                text = re.sub(
                    rf"(?<!\w)(?<!\d\.){re.escape(inner.strip())}(?!\w|\.\d)", "Thatone", text, flags=re.IGNORECASE
                )
            else:
                text = without_names(text, inner)
    elif isinstance(value, list):
        for inner in value:
            text = without_names(text, inner)
    return text


def spoken_texts(reply: dict[str, Any]) -> Iterator[str]:
    yield without_names(reply["sentence"], reply["question"])
    for entry in reply["cautions"]:
        yield without_names(entry["text"], reply["question"])


def test_nothing_is_spoken_that_speech_mangles(name: str) -> None:
    faultless(
        [f"{found[0]!r} in {text}" for _, reply in asked(name) for text in spoken_texts(reply)
         if (found := FORBIDDEN.search(text))]
    )  # fmt: skip


def test_what_is_spoken_is_a_few_whole_sentences(name: str) -> None:
    for _, reply in asked(name):
        said = reply["sentence"]
        assert said[0].isupper() or not said[0].isalpha(), said
        assert said.endswith("."), said
        assert len(re.findall(r"[.?!](?= |$)", without_names(said, reply["question"]))) <= MOST_SENTENCES, said
        assert all(entry["text"].endswith((".", "?")) for entry in reply["cautions"])


def test_the_chemistry_is_named_in_words(name: str) -> None:
    for _, reply in asked(name):
        chemistry = reply["question"].get("chemistry", reply["assumed"].get("chemistry"))
        if chemistry is not None and re.search(r"\b(pack|cell)", reply["sentence"]):
            assert CHEMISTRIES[chemistry].words in reply["sentence"], reply["sentence"]


UNITS: Mapping[str, list[tuple[Speaker, str]]] = {
    "A": [(words.amperes, ""), (lambda current, _: words.amperes_to_set(current), "")],
    "V": [(words.volts, ""), (words.millivolts, "")],
    "W": [(words.watts, "")],
    "mΩ": [(words.milliohms, ""), (words.ohms, "")],
    "mAh": [(words.milliampere_hours, "")],
    "Wh": [(words.watt_hours, "")],
    "°C": [(words.degrees, "")],
    "K": [(words.warming, "")],
    "min": [
        (words.duration, ""),
        (lambda time, _: words.quarter_minutes(time), ""),
        (lambda time, _: words.told(time), ""),
    ],
    "s": [(words.duration, ""), (lambda time, _: words.told(time), "")],
    "m": [(lambda length, _: words.metres(length), "")],
    "W/m": [(words.watts, " a metre")],
    "mV/day": [(words.millivolts, " a day")],
}
TO_SI = {"mΩ": 1e-3, "mAh": 3.6, "Wh": 3600.0, "min": 60.0, "mV/day": 1e-3}
PLAIN: list[Speaker] = [words.percent, words.rate, words.days, lambda size, way: f"{words.number(size, 2, way)} times"]
EVERY: tuple[Direction, ...] = ("down", "near", "up")


def heard(value: float, unit: str | None, ways: tuple[Direction, ...]) -> Iterator[str]:
    """All that one figure may sound like."""
    if unit is None:
        for speak in PLAIN:
            yield from (speak(value, way) for way in ways)
        return
    si = value + 273.15 if unit == "°C" else value * TO_SI.get(unit, 1.0)
    for speak, after in UNITS.get(unit, []):
        yield from (speak(si, way) + after for way in ways)


def leaves(value: Any) -> Iterator[tuple[float, str | None]]:
    if isinstance(value, dict) and value.keys() == {"value", "unit"}:
        yield value["value"], value["unit"]
    elif isinstance(value, dict):
        for inner in value.values():
            yield from leaves(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from leaves(inner)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield float(value), None


def of_results(value: Any, results: Mapping[str, Result]) -> Iterator[str]:
    """What the results sound like in the direction that each declares."""
    for name, told in value.items():
        result = results[name]
        if result.item is not None:
            for inner in told if isinstance(told, list) else [told]:
                yield from of_results(inner, result.item.results)
        elif isinstance(result.spec, Quantity | Number):
            for figure, unit in leaves(told):
                yield from heard(figure, unit, (result.spec.spoken,))


def in_reply(name: str, reply: dict[str, Any]) -> set[str]:
    """Every way in which a figure of the reply may rightly be spoken."""
    said = {words.degrees(ROOM), *of_results(reply["answer"], CALCULATORS[name].results)}
    for size, aughts in re.findall(r"(\d+)(/0)? AWG", str([reply["question"], reply["answer"]])):
        said.add(f"{size} aught gauge" if aughts else f"{size} gauge")
    for figure, unit in leaves([reply["question"], reply["assumed"]]):
        said.update(heard(figure, unit, EVERY))
    for text in re.findall(r"'[^']*'", str(reply["answer"])):
        said.update(found[0] for found in FIGURE.finditer(text))
    for band in reply["accuracy"]:
        (low, unit), (high, _) = next(leaves(band["low"])), next(leaves(band["high"]))
        said.update(heard(low, unit, ("down",)))
        said.update(heard(high, unit, ("up",)))
        if unit == "min":
            between = words.between(low * 60, high * 60)
            said |= {between, between.replace("up to", "within")}
    told = {**reply["assumed"], **reply["question"]}
    kinds = set(re.findall(r"'(?:packs\[\d+\]\.|\w+_)?chemistry': '(\w+)'", str(told))) & CHEMISTRIES.keys()
    for kind in (CHEMISTRIES[key] for key in kinds):
        # The trade's own limits of a chemistry, which every answer about it rests on.
        limits = (kind.floor, kind.rest_floor, kind.end_of_charge, kind.low_cell, kind.dead_cell)
        sizes = range(1, kind.most_cells + 1)
        said.update(words.volts(limit * size) for limit in limits if limit is not None for size in sizes)
        said |= {words.rate(kind.usual_rate), words.rate(COOL_PART * kind.usual_rate)}
    return said


NUMERAL = r"(?:minus )?\d[\d.]*\d|(?:minus )?\d"
UNIT = (
    r"watt hours?|(?:milli)?ampere hours?|amperes?|volts?|millivolts? a day|millivolts?|watts? a metre|watts?|"
    r"milliohms?|ohms?|degrees?|percent|C\b|metres?|days?|times"
)
CLOCK = r"\d+ hours?(?: and \d+ minutes?)?|\d+ minutes?(?: and \d+ seconds?)?|[\d.]+ seconds?"
FIGURE = re.compile(
    rf"(?P<span>(?P<low>{NUMERAL}) to (?P<most>(?P<high>{NUMERAL}) (?P<unit>{UNIT})))"
    rf"|(?P<times>[\d.]+ (?:minutes )?to [\d.]+ (?:minutes|hours)|(?:up to|within) \d+ minutes)"
    rf"|(?P<shown>(?:\d+ [A-Z][a-z]+ )?\d\d:\d\d)"
    rf"|(?P<clock>{CLOCK})"
    rf"|(?P<gauge>\d+ (?:aught )?gauge)"
    rf"|(?P<one>(?:{NUMERAL}) (?:{UNIT}))"
    rf"|(?P<place>(?:cells?|number|packs?|loads?|chargers?|outputs?) \d+(?:(?:, \d+)* and \d+)?"
    rf"|\d+(?: [a-z-]+)? (?:cells|packs|loads|spares)"
    rf"|by the rules as read for 2025 and 2026)",
    re.IGNORECASE,
)


def shown(reply: dict[str, Any]) -> set[str]:
    """What a clock on the wall shows at the minutes of a reply, where it was told when they begin."""
    told, _, zone = reply["question"]["start"].partition(" ")
    begun = datetime.fromisoformat(told).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
    minutes = [figure for figure, unit in leaves([reply["answer"], reply["accuracy"]]) if unit == "min"]
    times = [(begun + timedelta(minutes=round(size))).astimezone(ZoneInfo(zone)) for size in minutes]
    return {f"{time:%H:%M}" for time in times}


def strange(name: str, reply: dict[str, Any]) -> Iterator[str]:
    """Figures of a sentence that are nowhere in its reply, or are rounded the wrong way."""
    said, right = without_names(reply["sentence"], reply["question"]), in_reply(name, reply)
    figures = {re.split(r" [A-Za-z]", text)[0].removeprefix("minus ") for text in right}
    for found in FIGURE.finditer(said):
        if found["place"]:
            continue
        if found["shown"]:
            if found["shown"] not in shown(reply):
                yield f"{found[0]!r}"
            continue
        if found["span"]:
            unit = found["unit"]
            ends = [found["most"], *(f"{found['low']} {one}" for one in {unit, f"{unit}s", unit.removesuffix("s")})]
            if found["most"] not in right or not any(end in right for end in ends[1:]):
                yield f"{found[0]!r}"
        elif found[0] not in right:
            yield f"{found[0]!r}"
    rest = FIGURE.sub("", said)
    for bare in re.findall(r"\d[\d.]*\d|\d", rest):
        if bare not in figures:
            yield f"a bare {bare!r}"


def test_every_figure_that_is_spoken_is_in_the_reply_and_rounded_the_way_it_declares(name: str) -> None:
    faultless([f"{fault}: {reply['sentence']}" for _, reply in asked(name) for fault in strange(name, reply)])


def test_a_limit_that_is_rounded_up_is_noticed() -> None:
    reply = client().post("/v1/safe-draw", json=dict(CALCULATORS["safe-draw"].examples[0])).get_json()
    right = words.amperes(reply["answer"]["continuous_current"]["value"], "down")
    wrong = words.amperes(reply["answer"]["continuous_current"]["value"], "up")
    assert right != wrong
    assert not list(strange("safe-draw", reply))
    assert list(strange("safe-draw", {**reply, "sentence": reply["sentence"].replace(right, wrong)}))
    assert list(strange("safe-draw", {**reply, "sentence": reply["sentence"] + " That is 123 watts."}))


@pytest.mark.parametrize(
    "said",
    ["Rest_voltage needs a unit.", "It has 7 mΩ.", "It warms by 3 kelvin.", "Those disagree; see accuracy.",
     "It takes about up to 25 minutes.", "At minus 0 degrees it is cold.",
     "It stands at 1.75 volts, below its floor of 1.75 volts.",
     "Under 5 amperes and at 25 degrees 25 percent are left.", "It falls to minus 9.08 volts.",
     "It holds 1 cells.", "Charge this lipo pack.", "Draw 5 A (or less)."],
)  # fmt: skip
def test_what_speech_mangles_is_noticed(said: str) -> None:
    assert FORBIDDEN.search(said)


def broken(name: str) -> Iterator[dict[str, Any]]:
    """Questions that must be refused or may be: nothing told, an input left out, misspelt, without its unit, or odd."""
    yield {}
    for example in map(dict, CALCULATORS[name].examples):
        for field, value in example.items():
            rest = {key: told for key, told in example.items() if key != field}
            yield rest
            yield {**rest, f"{field}x": value}
            yield {**rest, field: re.sub(r"[^\d.,]", "", str(value))}
            yield {**rest, field: "-1e9"}
            yield {**rest, field: {"odd": [None]}}
        yield {**example, "utm_source": "a", "rest__voltage": "b", "c": "d", "e_f": "g"}


def test_a_refusal_is_one_plain_sentence(name: str) -> None:
    refused = 0
    for question in broken(name):
        reply = client().post(f"/v1/{name}.txt", json=question)
        said = reply.get_data(as_text=True).rstrip("\n")
        if reply.status_code == 200:
            continue
        refused += 1
        assert (reply.status_code, reply.mimetype) == (422, "text/plain")
        plain = re.sub(r'"[^"]*"', "this", said)  # what was read, or is to be written, stays as it is
        assert re.fullmatch(r"[A-Z0-9\"](?:[^.?!]|\.\w)*[.?]", plain), said
        assert not re.search(r"_|Ω|[\[\]{}]|\b(?:cells|voltages|packs|loads) (?:is|needs)\b", plain), said
    assert refused > 3
