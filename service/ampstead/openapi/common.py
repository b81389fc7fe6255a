"""What every part of the document is written with."""

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
