"""The calculators, one file each. A file without its function fails at import."""

import pkgutil
from collections.abc import Mapping
from functools import lru_cache
from importlib import import_module
from types import ModuleType

from ampstead.declare import Calculator, calculator


@lru_cache(maxsize=8)
def registry(package: ModuleType | None = None) -> Mapping[str, Calculator]:
    """The calculators of a package (this one by default), by name, in order.

    Raises
    ------
    TypeError
        If a file of the package is no calculator.
    """
    place = package.__name__ if package else __name__
    path = package.__path__ if package else __path__
    names = sorted(entry.name for entry in pkgutil.iter_modules(path))
    read = [calculator(import_module(f"{place}.{name}")) for name in names]
    return {entry.name: entry for entry in read}
