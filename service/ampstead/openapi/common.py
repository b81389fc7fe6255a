"""What every part of the document is written with."""

from collections.abc import Mapping
from typing import Any

Schema = dict[str, Any]
TEXT: Schema = {"type": "string"}


def pascal(name: str) -> str:
    """A name as schemas are named: ``charge-current`` as ``ChargeCurrent``."""
    return "".join(part.capitalize() for part in name.replace("-", " ").replace("_", " ").split())


def ref(name: str, kind: str = "schemas") -> Schema:
    """A reference to a component."""
    return {"$ref": f"#/components/{kind}/{name}"}


def first_line(owner: type) -> str:
    """What a class is, by its docstring."""
    return (owner.__doc__ or "").strip().partition("\n")[0]


def addressed(value: Any, name: str = "") -> dict[str, str]:
    """A question of JSON as an address writes it: ``packs[0].cells`` for what is nested."""
    if isinstance(value, Mapping) and value.keys() == {"value", "unit"}:
        return {name: f"{value['value']} {value['unit']}"}
    if isinstance(value, Mapping):
        parts = {f"{name}.{key}" if name else key: inner for key, inner in value.items()}
        return {key: text for place, inner in parts.items() for key, text in addressed(inner, place).items()}
    if isinstance(value, list) and all(isinstance(inner, Mapping) and "unit" not in inner for inner in value):
        return {key: text for n, inner in enumerate(value) for key, text in addressed(inner, f"{name}[{n}]").items()}
    if isinstance(value, list):
        return {name: ",".join(str(inner) for inner in value)}
    return {name: str(value).lower() if isinstance(value, bool) else str(value)}
