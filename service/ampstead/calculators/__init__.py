"""The calculators, one file each. A file without its function fails at import, and so does one that names a caution
that there is not, or a band of a result that it does not have."""

import dis
import pkgutil
import sys
from collections.abc import Iterator, Mapping
from functools import lru_cache
from importlib import import_module
from types import CodeType, FunctionType, ModuleType

from ampstead.declare import Calculator, calculator
from ampstead.judging.cautions import caution


def registry(package: ModuleType | None = None) -> Mapping[str, Calculator]:
    """The calculators of a package (this one by default), by name, in order.

    Raises
    ------
    TypeError
        If a file of the package is no calculator, or names what there is not.
    """
    return _registry(package)


@lru_cache(maxsize=8)
def _registry(package: ModuleType | None) -> Mapping[str, Calculator]:
    place = package.__name__ if package else __name__
    path = package.__path__ if package else __path__
    modules = [import_module(f"{place}.{name}") for name in sorted(entry.name for entry in pkgutil.iter_modules(path))]
    read = [calculator(module) for module in modules]
    for module in modules:
        _cautions_exist(module)
    for entry in read:
        _bands_have_results(entry)
    return {entry.name: entry for entry in read}


@lru_cache(maxsize=256)
def _cautions_exist(module: ModuleType) -> None:
    """Every caution that a file, or the judgement that it imports, names by its code."""
    known = getattr(module, "caution", caution).table
    for thing in list(vars(module).values()):
        home = getattr(thing, "__module__", None)
        if home == module.__name__:
            for function in [thing, *vars(thing).values()] if isinstance(thing, type) else [thing]:
                for code in _texts(function, "caution"):
                    if code not in known:
                        raise TypeError(f"{module.__name__}: there is no caution {code}")
        elif isinstance(home, str) and home.startswith("ampstead.judging."):
            _cautions_exist(sys.modules[home])


def _bands_have_results(entry: Calculator) -> None:
    for function in _called(entry.accuracy, set()):
        for of in _texts(function, "Band"):
            if of not in entry.results:
                raise TypeError(f"{entry.name}: there is a band of {of}, which is no result")


def _called(function: object, seen: set[object]) -> Iterator[FunctionType]:
    """A function, and those of this project that it calls by their names."""
    if isinstance(function, FunctionType) and function not in seen:
        seen.add(function)
        yield function
        for code in _parts(function.__code__):
            for name in code.co_names:
                yield from _called(function.__globals__.get(name), seen)


def _texts(function: object, called: str) -> Iterator[str]:
    """The texts that a function hands first to what it calls by a name."""
    if not isinstance(function, FunctionType):
        return
    for code in _parts(function.__code__):
        if called not in code.co_names:
            continue
        last = None
        for step in dis.get_instructions(code):
            if step.opname == "LOAD_CONST" and isinstance(step.argval, str) and last == called:
                yield step.argval
            if step.opname not in ("PUSH_NULL", "PRECALL", "CACHE"):
                last = step.argval if step.opname == "LOAD_GLOBAL" else None


def _parts(code: CodeType) -> Iterator[CodeType]:
    yield code
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            yield from _parts(inner)
