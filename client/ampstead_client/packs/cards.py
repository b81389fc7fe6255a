"""The addresses of the packs' field cards: pages of a service, a card for each pack."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
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


def card_addresses(packs: Iterable[ListedPack], server: str, name: str) -> list[str]:
    """One address for all cards, or as many as it takes."""
    addresses: list[str] = []
    held: list[ListedPack] = []
    for pack in packs:
        if held and len(_address([*held, pack], server, name)) > LONGEST:
            addresses.append(_address(held, server, name))
            held = []
        held.append(pack)
    return [*addresses, _address(held, server, name)] if held else addresses


def _address(packs: list[ListedPack], server: str, name: str) -> str:
    query = [("name", name), *(pair for place, pack in enumerate(packs) for pair in _asked(place, pack))]
    return f"{server.rstrip('/')}/card?{urlencode(query, quote_via=quote, safe='[],')}"


def _asked(place: int, pack: ListedPack) -> Iterator[tuple[str, str]]:
    for fact in FACTS:
        value = getattr(pack, fact)
        if value is not None:
            text = ",".join(map(_plain, value)) if isinstance(value, tuple) else _plain(value)
            yield f"packs[{place}].{fact}", text


def _plain(value: object) -> str:
    return f"{value:.10g}" if isinstance(value, float) else str(value)
