"""Types of the fixtures that the contract's tests share."""

from collections.abc import Callable, Mapping
from types import ModuleType
from typing import Any, TypeAlias

Fits: TypeAlias = Callable[[Mapping[str, Any], Any], list[str]]
"""What is wrong with a value by one of the document's schemas."""

NewPackage: TypeAlias = Callable[[Mapping[str, str]], ModuleType]
"""A package of calculators from the source text of its files."""
