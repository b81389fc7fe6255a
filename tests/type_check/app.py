"""An app in ten lines, and further uses of the client, which only have to type-check; some lines must not."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, assert_type

from ampstead_client import (
    AmpsteadClient,
    AmpsteadError,
    Answer,
    Caution,
    ChargeCurrent,
    Condition,
    FieldError,
    InvalidQuestion,
    Load,
    Pack,
    Quantity,
    QuantityLike,
    Sag,
    SupplySplit,
    TimedOut,
    Transport,
)
from ampstead_client.testing import FakeTransport, example


def hangar_board(base_url: str) -> str:
    """The app: may this pack fly its last flight, and what then?"""
    aerobat = Pack(cells=4, capacity="3700 mAh", cell_resistance=Quantity(4.6, "mΩ"))
    with AmpsteadClient(base_url, app_name="meadow club bench") as client:
        try:
            answer = client.sag(pack=aerobat, current="48 A", rest_voltage="15.07 V")
        except InvalidQuestion as fault:
            return "\n".join(error.message for error in fault.errors)
        return f"{answer.loaded_voltage:.1f}, {'holds' if answer.holds else 'sags too far'}: {answer}"


def charged(client: AmpsteadClient, capacity: QuantityLike, cells: int = 3) -> ChargeCurrent:
    return client.charge_current(cells=cells, capacity=capacity, chemistry="lihv", rate="1.5C", efficiency=0.9)


def minutes(answer: ChargeCurrent) -> float | None:
    assert_type(answer.current, Quantity)
    assert_type(answer.time_total, Quantity | None)
    assert_type(answer.cautions, tuple[Caution, ...])
    return None if answer.time_total is None else answer.time_total.to("min").value


def sure(answer: ChargeCurrent) -> tuple[str, float, tuple[str, ...]]:
    band = answer.band("time_total")
    assert_type(answer.assumed["efficiency"], float)
    assert_type(answer.question["rest_voltage"], Quantity)
    assert_type(answer.question["condition"], Condition)
    assert_type(answer.to_dict(), dict[str, Any])
    return ("" if band is None else band.basis), answer.assumed.get("taper", 0.1), tuple(answer.assumed)


def reckoned(answer: ChargeCurrent) -> float:
    heat = answer.end_voltage * answer.current
    assert_type(heat + answer.peak_power * 2, Quantity)
    assert_type(answer.current.value_in("mA"), float)
    assert_type(Quantity.many("3.86, 3.91 V"), tuple[Quantity, ...])
    strongest = max(Quantity.many([14, 23], "A"), key=lambda current: abs(current))
    return float(strongest / answer.current) if answer.current < Quantity.parse("2 A") else 0.0


def drawn(client: AmpsteadClient, answer: Answer) -> int:
    assert_type(client.picture(answer), str)
    assert_type(client.picture(answer, form="png"), bytes)
    table = client.table(answer)
    assert_type(table.rows, tuple[tuple[float | str | bool | None, ...], ...])
    assert_type(table.to_dict(), dict[str, list[Any]])
    return len(table)


def doubled() -> Sag:
    service = FakeTransport()
    transport: Transport = service
    service.give("sag", example(Sag, holds=False))
    service.fail("sag", TimedOut)
    assert_type(service.asked[0].calculator, str)
    return AmpsteadClient.over(transport).sag(current="48 A")


class Double:
    """A transport of an app's own."""

    def ask(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
        return {"calculator": calculator, **question}

    def fetch(self, calculator: str, question: Mapping[str, Any], form: str) -> bytes:
        return f"{calculator} {form}".encode()

    def address(self, calculator: str) -> str:
        return calculator

    def close(self) -> None:
        pass


class Half:
    """An object that is no transport."""

    def ask(self, calculator: str) -> str:
        return calculator


own = AmpsteadClient.over(Double())


def gravest(answer: Answer) -> Literal["danger", "warning", "note"] | None:
    return answer.cautions[0].severity if answer.cautions else None


def shared(client: AmpsteadClient) -> SupplySplit:
    answer = client.supply_split(
        supply_rating="100 W",
        loads=[Load(name="trainer", cells=3, capacity="2250 mAh"), {"power": "60 W"}, "110 W", Quantity(5, "W")],
        share="in-proportion",
    )
    assert_type(answer.allotments[0].allotted_power, Quantity)
    assert_type(answer.fits, bool)
    return answer


def levelled(client: AmpsteadClient) -> tuple[FieldError, ...] | str:
    try:
        return client.balance_need(cell_voltages=["3.86 V", Quantity(3.91, "V")], rested=False).verdict
    except InvalidQuestion as fault:
        return fault.errors
    except AmpsteadError as fault:
        return fault.message


def embedded() -> Quantity:
    client = AmpsteadClient.embedded()
    assert_type(client, AmpsteadClient)
    return client.wattage(pack={"cells": 3, "capacity": "2250 mAh"}, available_power="30 W").supply_power


def mistaken(client: AmpsteadClient, answer: ChargeCurrent) -> None:
    client.wattage(cells=3, capacity=2250)  # type: ignore[arg-type]
    client.wattage(cells=2, capacity="2250 mAh", chemistry="lipoo")  # type: ignore[arg-type]
    client.wattage("2250 mAh")  # type: ignore[call-arg, arg-type]
    client.wattage(cels=2)  # type: ignore[call-arg]
    AmpsteadClient.over(Half())  # type: ignore[arg-type]
    client.picture(answer, form="gif")  # type: ignore[call-overload]
    client.lead_loss()  # type: ignore[call-arg]
    answer.time_total.to("h")  # type: ignore[union-attr]
    answer.assumed["eficiency"]  # type: ignore[typeddict-item]
    _ = answer.current < 2  # type: ignore[operator]
    _ = answer.current + 2  # type: ignore[operator]
    answer.current = Quantity(1, "A")  # type: ignore[misc]
