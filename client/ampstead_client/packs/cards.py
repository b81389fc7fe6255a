"""The addresses of the packs' field cards: pages of a service, a card for each pack."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any
from urllib.parse import quote, urlencode

from ampstead_client.packs.entries import ListedPack

FACTS = (
    *("name", "chemistry", "cells", "capacity", "cell_resistance", "pack_resistance", "resistance_method"),
    *("resistance_temperature", "max_rate", "label_rate", "condition", "flight_time", "charge_returned"),
    "measured_capacity",
)
"""What a card is told of a pack."""
LONGEST = 3500
"""Letters of an address, beyond which a second one is begun: every service and browser takes as many."""


def card_addresses(
    packs: Iterable[ListedPack], server: str, name: str, held_against: Mapping[str, Mapping[str, Any]] | None = None
) -> list[str]:
    """One address for all cards, or as many as it takes.

    `held_against` has, by the packs' ids, what a report held their resistances against (`Standing.held_against`):
    without it a card does not know how a pack has aged.
    """
    addresses: list[str] = []
    here: list[dict[str, str]] = []
    for pack in packs:
        told = _told(pack, (held_against or {}).get(pack.id, {}))
        if here and len(_address([*here, told], server, name)) > LONGEST:
            addresses.append(_address(here, server, name))
            here = []
        here.append(told)
    return [*addresses, _address(here, server, name)] if here else addresses


def _address(packs: list[dict[str, str]], server: str, name: str) -> str:
    facts = [(f"packs[{place}].{fact}", text) for place, pack in enumerate(packs) for fact, text in pack.items()]
    query = [("name", name), *facts]
    return f"{server.rstrip('/')}/card?{urlencode(query, quote_via=quote, safe='[],')}"


def _told(pack: ListedPack, held_against: Mapping[str, Any]) -> dict[str, str]:
    """What the card of a pack is told."""
    voltages = pack.latest("cell_voltages")
    known = {
        **{fact: getattr(pack, fact) for fact in FACTS},
        "current": pack.typical_current,
        "cell_voltages": None if voltages is None else voltages.value,
        **held_against,
    }
    return {
        fact: ",".join(map(_plain, value)) if isinstance(value, tuple) else _plain(value)
        for fact, value in known.items()
        if value is not None
    }


def _plain(value: object) -> str:
    return f"{value:.10g}" if isinstance(value, float) else str(value)
