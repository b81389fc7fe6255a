"""Types of the fixtures that the contract's tests share, and the document with its references followed."""

from collections.abc import Callable, Mapping
from types import ModuleType
from typing import Any, TypeAlias

Fits: TypeAlias = Callable[[Mapping[str, Any], Any], list[str]]
"""What is wrong with a value by one of the document's schemas."""

NewPackage: TypeAlias = Callable[[Mapping[str, str]], ModuleType]
"""A package of calculators from the source text of its files."""


def written_out(spec: dict[str, Any]) -> dict[str, Any]:
    """A document with references followed, but for those to schemas other than an input's own."""

    def opened(node: Any) -> Any:
        if isinstance(node, list):
            return [opened(entry) for entry in node]
        if not isinstance(node, dict):
            return node
        reference = node.get("$ref")
        if isinstance(reference, str):
            _, kind, name = reference.rsplit("/", 2)
            if kind != "schemas" or name.startswith("Given"):
                return opened(spec["components"][kind][name])
        return {name: opened(entry) for name, entry in node.items()}

    made: dict[str, Any] = opened(spec)
    return made
