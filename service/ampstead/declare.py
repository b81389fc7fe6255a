"""What a calculator is: a typed function read into a declaration.

The signature says each input once: its name, unit, bounds, default, example and meaning, in ``Annotated`` hints
of the classes below. The result is a frozen dataclass annotated alike. Everything else (schema, OpenAPI,
client) follows from the declaration read here.

Values are SI floats inside a calculator; the unit named in a ``Quantity`` is the one its answers are written in.

Over 300 lines: what can be declared and how it is read belong on one page.
"""

import dataclasses
import inspect
import math
import re
import types
import typing
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Annotated, Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ampstead.errors import FieldError
from ampstead.sketch import Picture
from ampstead.units import DIMENSIONS, Dimension, Unreadable, quantity
from ampstead.words import Direction

Floats = NDArray[np.float64]
Severity = Literal["danger", "warning", "note"]
Moment = Literal["at the field", "at the bench", "back home", "before the next outing"]
MOMENTS: tuple[Moment, ...] = typing.get_args(Moment)
MANY = 64
MOST_ROWS = 10_000
"""Questions at once; fewer where a file's own ``MOST_ROWS`` says so, for what is slow to answer; 0 for no batch."""
SLACK = 1e-9


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """The range of a number; texts like ``"10 mAh"`` where the number has a unit."""

    above: float | str | None = None
    at_least: float | str | None = None
    below: float | str | None = None
    at_most: float | str | None = None

    def inner(self, convert: Callable[[float | str], float]) -> tuple[float, float]:
        """Least and most of the numbers that are in range without any slack."""
        low, high = -math.inf, math.inf
        if self.at_least is not None:
            low = convert(self.at_least)
        if self.above is not None:
            low = max(low, math.nextafter(convert(self.above), math.inf))
        if self.at_most is not None:
            high = convert(self.at_most)
        if self.below is not None:
            high = min(high, math.nextafter(convert(self.below), -math.inf))
        return low, high

    def broken(self, value: float, convert: Callable[[float | str], float]) -> str | None:
        """What the value would have to be, or None where it is in range (with a slack of 1e-9)."""
        for words, bound, low, strict in (
            ("above", self.above, True, True),
            ("at least", self.at_least, True, False),
            ("below", self.below, False, True),
            ("at most", self.at_most, False, False),
        ):
            if bound is None:
                continue
            limit = convert(bound)
            excess = limit - value if low else value - limit
            if excess >= 0 if strict else excess > SLACK * abs(limit):
                return f"{words} {bound}"
        return None


@dataclass(frozen=True, kw_only=True)
class Shown:
    """How pages show an input or result: under a ``label`` where its name misleads, folded away where it is an
    ``aside`` that few will want to tell."""

    label: str = ""
    aside: bool = False


class Spec(Shown):
    """What every input or result says of itself."""

    meaning: str
    example: Any


@dataclass(frozen=True)
class Number(Bounds, Spec):
    """A plain number without a dimension; ``spoken`` is the direction in which a result is rounded to be spoken."""

    meaning: str
    spoken: Direction = field(default="near", kw_only=True)
    example: Any = field(default=None, kw_only=True)


@dataclass(frozen=True)
class Fraction(Number):
    """A plain number that may also be written in percent."""


@dataclass(frozen=True)
class Rate(Number):
    """A charge or discharge rate: current per capacity and hour. ``1C`` is read too."""


@dataclass(frozen=True)
class Count(Number):
    """A whole number."""


@dataclass(frozen=True)
class Quantity(Bounds, Spec):
    """A number with a dimension; ``unit`` is the unit that answers carry, the value itself is SI.

    ``spoken`` is the direction in which a result is rounded to be spoken or shown: down for what may be at most,
    up for what is needed.
    """

    unit: str
    meaning: str
    spoken: Direction = field(default="near", kw_only=True)
    example: str | None = field(default=None, kw_only=True)

    def __post_init__(self) -> None:
        if self.unit not in DIMENSIONS:
            raise TypeError(f"{self.unit!r} is no unit that answers carry: they are {', '.join(DIMENSIONS)}")
        try:
            self.inner(self.si)
        except Unreadable as fault:
            raise TypeError(f"a bound or the example of {self.meaning!r} cannot be read: it {fault.message}") from None

    @cached_property
    def dimension(self) -> Dimension:
        """The kind of quantity, with this input's own example for messages."""
        dimension = DIMENSIONS[self.unit]
        return dataclasses.replace(dimension, example=self.example) if self.example else dimension

    def si(self, bound: float | str) -> float:
        """A bound in SI; only a bound of zero needs no unit."""
        return quantity(bound, self.dimension) if isinstance(bound, str) else float(bound)


@dataclass(frozen=True)
class Choice(Spec):
    """One of the words of its ``Literal`` type, or another spelling of one; the case of letters does not count."""

    meaning: str
    example: Any = field(default=None, kw_only=True)
    options: tuple[str, ...] = field(default=(), kw_only=True)
    spellings: Mapping[str, str] = field(default_factory=dict, kw_only=True)
    words: Mapping[str, str] = field(default_factory=dict, kw_only=True)

    def said(self, option: str) -> str:
        """An option in words, as pages show it."""
        return self.words.get(option) or option.replace("-", " ")


@dataclass(frozen=True)
class Flag(Spec):
    """Yes or no; of a result ``yes`` and ``no`` are what either says, as a clause ("the packs may be joined")."""

    meaning: str
    yes: str = field(default="", kw_only=True)
    no: str = field(default="", kw_only=True)
    example: Any = field(default=None, kw_only=True)


@dataclass(frozen=True)
class Text(Spec):
    """A short free text, such as a name; where ``measured``, a size in words of its own, such as a gauge; where
    ``said``, words of a calculator's own, in which figures stand as they are spoken."""

    meaning: str
    example: Any = field(default=None, kw_only=True)
    longest: int = field(default=60, kw_only=True)
    measured: bool = field(default=False, kw_only=True)
    said: bool = field(default=False, kw_only=True)


@dataclass(frozen=True)
class Items(Spec):
    """A list of nested things, at most so many; ``shorthand`` is the input that a plain quantity as element fills."""

    meaning: str
    example: Any = field(default=None, kw_only=True)
    shorthand: str | None = field(default=None, kw_only=True)
    most: int = field(default=MANY, kw_only=True)


@dataclass(frozen=True)
class Nested(Spec):
    """One nested thing."""

    meaning: str
    example: Any = field(default=None, kw_only=True)


@dataclass(frozen=True, kw_only=True)
class Group:
    """A frozen dataclass of shared inputs, expanded flat into the question.

    ``only`` or ``omit`` choose its fields, ``require`` names those that must be given or follow from others (a plain
    default of theirs is dropped), ``defaults`` overrides the group's own defaults, ``unasked`` what a field that is no
    input is taken for (else None). A group that is ``whole`` may be handed to the client's methods in one.
    """

    name: str
    only: tuple[str, ...] | None = None
    omit: tuple[str, ...] = ()
    require: tuple[str, ...] = ()
    defaults: Mapping[str, Any] = field(default_factory=dict)
    unasked: Mapping[str, Any] = field(default_factory=dict)
    whole: bool = True


@dataclass(frozen=True)
class Derived:
    """A default that follows from other inputs, which its function names as parameters (all in SI)."""

    function: Callable[..., Any]
    text: str

    @cached_property
    def needs(self) -> tuple[str, ...]:
        return tuple(inspect.signature(self.function).parameters)


def derived(function: Callable[..., Any], text: str) -> Any:
    """A derived default, typed so that it can stand where any default stands."""
    return Derived(function, text)


@dataclass(frozen=True, init=False)
class OneOf:
    """Inputs of which at most one may be given; exactly one where ``required``. ``asked`` is what they all answer, as
    a page asks it."""

    names: tuple[str, ...]
    required: bool
    asked: str = field(repr=False, compare=False)
    members: frozenset[str] = field(repr=False, compare=False)

    def __init__(self, *names: str, required: bool = False, asked: str = "") -> None:
        object.__setattr__(self, "names", names)
        object.__setattr__(self, "members", frozenset(names))
        object.__setattr__(self, "required", required)
        object.__setattr__(self, "asked", asked)

    def among(self, inputs: Iterable[str]) -> "OneOf | None":
        """The rule over those of its names that a calculator takes; None where nothing is left to exclude."""
        names = [name for name in self.names if name in inputs]
        return OneOf(*names, required=self.required, asked=self.asked) if len(names) > 1 else None


class When(NamedTuple):
    """When a flier asks it, and its place among what is asked then."""

    moment: Moment
    place: int


class Band(NamedTuple):
    """How sure a result is: ``low`` to ``high`` of the result ``of``, in its SI unit, and why."""

    of: str
    low: float
    high: float
    basis: str

    @property
    def wide(self) -> bool:
        """Whether it is wider than rounding, and so worth telling."""
        return self.high - self.low > SLACK * max(self.high, -self.low)


class Caution(NamedTuple):
    """Something to heed."""

    code: str
    severity: Severity
    text: str
    standing: bool = False
    """Whether it holds on any day, whatever was asked."""


class _Nothing:
    """The default of an input that has none."""


NOTHING = _Nothing()


@dataclass(frozen=True)
class Input:
    """One named input of a question."""

    name: str
    spec: Spec
    required: bool = False
    default: Any = NOTHING
    one: bool = True
    many: bool = False
    group: str | None = None
    item: "ItemType | None" = None

    @property
    def label(self) -> str:
        """The name as spoken and as pages show it: ``rest voltage``."""
        return self.spec.label or self.name.replace("_", " ")


@dataclass(frozen=True)
class Result:
    """One named result of an answer."""

    name: str
    spec: Spec
    nullable: bool = False
    many: bool = False
    item: "ItemType | None" = None

    @property
    def label(self) -> str:
        """The name as pages show it: ``time_flight`` is the flight time."""
        plain = re.sub(r"^time_([a-z]+)$", r"\1 time", self.name)
        return self.spec.label or plain.replace("_", " ")


@dataclass(frozen=True, eq=False)
class ItemType:
    """A nested dataclass, as an input (its inputs and rules) or in an answer (its results)."""

    type: type
    inputs: Mapping[str, Input]
    results: Mapping[str, Result]
    rules: tuple[OneOf, ...]
    checks: tuple[Callable[..., Iterable[FieldError]], ...]


class Extensible:
    """What a dataclass of inputs derives from that others may extend.

    A field that is declared again takes its default from the class extended, unless it says its own: what looks
    required would not be. So one has to be said; ``field()`` for none.

    Raises
    ------
    TypeError
        As the extending class is made.
    """

    def __init_subclass__(cls) -> None:
        if "__slots__" in vars(cls):  # the same class once more, made by `dataclass` without its defaults
            return
        again = {name for base in cls.__mro__[1:] for name in getattr(base, "__dataclass_fields__", ())}
        silent = [name for name in inspect.get_annotations(cls) if name in again and name not in vars(cls)]
        if silent:
            raise TypeError(f"{cls.__name__} declares {', '.join(silent)} again: say its default, or field() for none")


@dataclass(frozen=True, eq=False)
class Calculator:
    """A calculator as declared by its one file."""

    name: str
    function: Callable[..., Any]
    result: type
    inputs: Mapping[str, Input]
    results: Mapping[str, Result]
    groups: Mapping[str, tuple[type, Group]]
    rules: tuple[OneOf, ...]
    checks: tuple[Callable[..., Iterable[FieldError]], ...]
    asked: str
    """The question that it answers, as a person asks it."""
    when: When
    main: tuple[str, ...]
    """The results that matter most, the first before all."""
    summary: str
    description: str
    examples: tuple[Mapping[str, Any], ...]
    sources: tuple[str, ...]
    sentence: Callable[..., str]
    cautions: Callable[..., Iterable[Caution]] | None
    accuracy: Callable[..., Iterable[Band]] | None
    curve: Callable[..., Any] | None
    columns: Mapping[str, Result]
    picture: Callable[..., Picture] | None
    most: int = MOST_ROWS
    """Questions that it takes at once."""

    @property
    def forms(self) -> tuple[str, ...]:
        """The suffixes under which it answers, beside plain JSON and ``.txt``."""
        return (".csv",) + ((".svg", ".png") if self.picture else ())

    @property
    def nested(self) -> bool:
        """Whether a question has inputs that only a JSON body can carry in full."""
        return any(entry.item for entry in self.inputs.values())


def _annotated(name: str, hint: Any) -> tuple[Any, Any]:
    plain, *extra = typing.get_args(hint) if typing.get_origin(hint) is Annotated else (hint,)
    told = next((entry for entry in extra if isinstance(entry, Spec | Group)), None)
    if told is None:
        raise TypeError(f"{name} carries no meaning: annotate it by a Quantity, a Number, a Choice or the like")
    return plain, told


def _alternatives(hint: Any) -> tuple[Any, ...]:
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        return typing.get_args(hint)
    return (hint,)


def _listed(hint: Any) -> bool:
    origin = typing.get_origin(hint)
    named = getattr(origin, "__value__", None)  # numpy's NDArray is a named alias from 2.5 on
    return (origin if named is None else typing.get_origin(named)) in (list, tuple, Sequence, np.ndarray)


def _item_type(hints: Iterable[Any]) -> "ItemType | None":
    for hint in hints:
        for inner in typing.get_args(hint) if _listed(hint) else (hint,):
            if dataclasses.is_dataclass(inner) and isinstance(inner, type):
                return item_type(inner)
    return None


def _with_options(spec: Spec, hints: tuple[Any, ...]) -> Spec:
    options = next((typing.get_args(hint) for hint in hints if typing.get_origin(hint) is Literal), None)
    return dataclasses.replace(spec, options=options) if isinstance(spec, Choice) and options else spec


def _input(name: str, hint: Any, default: Any, group: str | None = None) -> Input:
    plain, spec = _annotated(name, hint)
    hints = _alternatives(plain)
    listed = [_listed(inner) for inner in hints if inner is not type(None)]
    missing = default in (inspect.Parameter.empty, dataclasses.MISSING)
    return Input(
        name=name,
        spec=_with_options(spec, hints),
        required=missing,
        default=NOTHING if missing or default is None else default,
        one=not all(listed),
        many=any(listed),
        group=group,
        item=_item_type(hints),
    )


def _fields(owner: type) -> dict[str, tuple[Any, Any]]:
    hints = typing.get_type_hints(owner, include_extras=True)
    return {entry.name: (hints[entry.name], entry.default) for entry in dataclasses.fields(owner)}


def _results(owner: type) -> dict[str, Result]:
    """The results of a dataclass; a field named with an underscore is its own working, which nobody is shown."""
    results = {}
    for name, (hint, _) in _fields(owner).items():
        if name.startswith("_"):
            continue
        plain, spec = _annotated(name, hint)
        hints = _alternatives(plain)
        results[name] = Result(
            name=name,
            spec=_with_options(spec, hints),
            nullable=type(None) in hints,
            many=any(_listed(inner) for inner in hints),
            item=_item_type(hints),
        )
    return results


def item_type(owner: type) -> ItemType:
    """A nested dataclass read once, for both directions."""
    return ItemType(
        type=owner,
        inputs={name: _input(name, hint, default) for name, (hint, default) in _fields(owner).items()},
        results=_results(owner),
        rules=_narrowed(getattr(owner, "RULES", ()), _fields(owner)),
        checks=tuple(getattr(owner, "CHECKS", ())),
    )


def group_inputs(name: str, owner: type, group: Group) -> dict[str, Input]:
    """The inputs that a group adds to a question.

    Raises
    ------
    TypeError
        If it names a field that there is not, or that it does not take.
    """
    fields = _fields(owner)
    taken = group.only or tuple(entry for entry in fields if entry not in group.omit)
    strange = [*({*(group.only or ()), *group.omit} - fields.keys()), *({*group.require, *group.defaults} - {*taken})]
    if strange:
        raise TypeError(f"the group {name} takes no {', '.join(sorted(strange))} of {owner.__name__}")
    inputs = {}
    for entry in fields:
        if entry not in taken:
            continue
        hint, default = fields[entry]
        default = group.defaults.get(entry, default)
        if entry in group.require and not isinstance(default, Derived):
            default = dataclasses.MISSING
        made = _input(entry, hint, default, name if group.whole else None)
        if isinstance(made.spec, Choice) and entry in group.defaults:
            made = dataclasses.replace(made, spec=dataclasses.replace(made.spec, example=default))
        inputs[entry] = dataclasses.replace(made, required=True) if entry in group.require else made
    return inputs


def _looked_at(check: Callable[..., Any]) -> set[str]:
    """The inputs that a check cannot do without; every question has its set of names ``given``."""
    parameters = inspect.signature(check).parameters.items()
    return {name for name, entry in parameters if entry.default is inspect.Parameter.empty} - {"given"}


def _narrowed(rules: Iterable[OneOf], inputs: Iterable[str]) -> tuple[OneOf, ...]:
    """The rules over a question's inputs; one that says no more than another is left out."""
    found = [narrowed for rule in rules if (narrowed := rule.among(inputs))]
    needed = [rule for rule in found if rule.required]
    return tuple(rule for rule in found if rule.required or not any(rule.members <= other.members for other in needed))


def _said_plainly(place: str, entries: Iterable[Input | Result]) -> None:
    for entry in entries:
        if re.search(r"\bnull\b", entry.spec.meaning):
            raise TypeError(f"{place}: the meaning of {entry.name} says null; say what that means to a person")


def _names_inputs(module: types.ModuleType, inputs: set[str]) -> None:
    """What a file tells and checks by itself names its own inputs; what a group brings along may name more."""
    named = {f"a rule of RULES, {rule}": set(rule.names) for rule in getattr(module, "RULES", ())}
    named |= {f"{check.__name__}()": _looked_at(check) for check in getattr(module, "CHECKS", ())}
    for teller in ("sentence", "cautions", "accuracy", "curve", "picture"):
        if function := getattr(module, teller, None):
            named[f"{teller}()"] = {*inspect.signature(function).parameters} - {"answer", "given", "bands"}
    for place, names in named.items():
        if strange := sorted(names - inputs):
            raise TypeError(f"{module.__name__}: {place} names {', '.join(strange)}, which is no input")


def calculator(module: types.ModuleType) -> Calculator:
    """Read one calculator file.

    Raises
    ------
    TypeError
        If the file lacks its function, its result, its sentence, its sources or its example.
    """
    function_name = module.__name__.rsplit(".", 1)[-1]
    function = getattr(module, function_name, None)
    if not callable(function):
        raise TypeError(f"{module.__name__} needs a function {function_name}()")
    for needed in ("sentence", "ASKED", "WHEN", "SOURCES", "EXAMPLES"):
        if not getattr(module, needed, None):
            raise TypeError(f"{module.__name__} needs {needed}")
    for several in ("SOURCES", "EXAMPLES"):
        if isinstance(getattr(module, several), str | Mapping):
            raise TypeError(f"{module.__name__}.{several} is one alone: put a comma behind it, and brackets around")
    hints = typing.get_type_hints(function, include_extras=True)
    result = hints.pop("return", None)
    if not (isinstance(result, type) and dataclasses.is_dataclass(result)):
        raise TypeError(f"{module.__name__}.{function_name}() must return a dataclass")

    inputs: dict[str, Input] = {}
    groups: dict[str, tuple[type, Group]] = {}
    rules = list(getattr(module, "RULES", ()))
    checks = list(getattr(module, "CHECKS", ()))
    for name, parameter in inspect.signature(function).parameters.items():
        plain, spec = _annotated(name, hints.get(name))
        if isinstance(spec, Group):
            groups[name] = (plain, spec)
            inputs |= group_inputs(name, plain, spec)
            rules += getattr(plain, "RULES", ())
            checks += getattr(plain, "CHECKS", ())
        else:
            inputs[name] = _input(name, hints[name], parameter.default)
    checks = [check for check in checks if _looked_at(check) <= set(inputs)]
    _names_inputs(module, {*inputs, *groups})

    results = _results(result)
    asked, when, main = module.ASKED, When(*module.WHEN), tuple(getattr(module, "MAIN", list(results)[:1]))
    if not asked.endswith("?"):
        raise TypeError(f"{module.__name__}.ASKED is no question: {asked}")
    if when.moment not in MOMENTS:
        raise TypeError(f"{module.__name__}.WHEN must be one of {', '.join(MOMENTS)}, and a place; not {when.moment}")
    if strange := [name for name in main if name not in results]:
        raise TypeError(f"{module.__name__}.MAIN names {', '.join(strange)}, which is no result")
    _said_plainly(module.__name__, [*inputs.values(), *results.values()])

    curve, picture = getattr(module, "curve", None), getattr(module, "picture", None)
    if picture and not curve:
        raise TypeError(f"{module.__name__} has a picture but no curve() to draw")
    summary, _, description = inspect.cleandoc(function.__doc__ or "").partition("\n")
    if not summary:
        raise TypeError(f"{module.__name__}.{function_name}() needs a docstring")
    return Calculator(
        name=function_name.replace("_", "-"),
        function=function,
        result=result,
        inputs=inputs,
        results=results,
        groups=groups,
        rules=_narrowed(rules, inputs),
        checks=tuple(checks),
        asked=asked,
        when=when,
        main=main,
        summary=summary.rstrip("."),
        description=description.strip(),
        examples=tuple(module.EXAMPLES),
        sources=tuple(module.SOURCES),
        sentence=module.sentence,
        cautions=getattr(module, "cautions", None),
        accuracy=getattr(module, "accuracy", None),
        curve=curve,
        columns=_results(typing.get_type_hints(curve)["return"]) if curve else {},
        picture=picture,
        most=getattr(module, "MOST_ROWS", MOST_ROWS),
    )
