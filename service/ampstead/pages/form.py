"""The form of a calculator, with a question in it: which boxes, in what order, how many, and what is said of each.

Over 300 lines, since all of that is read from one question and its errors as they are taken apart.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from ampstead.declare import Choice as Words
from ampstead.declare import Flag, Fraction, Input, Quantity, Rate, Text
from ampstead.errors import FieldError, capitalised, spoken
from ampstead.pages import typed
from ampstead.pages.fields import ROOM, TAKEN, Box, Field, Form, Part, Row, Rows, Shaped, Ways, at_first, briefly, hint
from ampstead.pages.shape import Choice, Node, Owner, first_inputs, labelled, nodes
from ampstead.reading.names import base
from ampstead.reading.readers import reader
from ampstead.units import Unreadable

TELLING = ("cell_resistance", "max_rate", "condition", "temperature")
"""What else a row of a list offers; the rest has its address, as every input has."""
FULL_ROWS = 2
"""Rows of a list that offer all that is asked first; later ones what is told of them, and what must be."""
MANY_ROWS = 3
"""Rows told in a question from which on they are short: what is told, or asked first, each in one unit."""
MOST_OTHERWISE = 6
"""Inputs of a way to tell a thing that are still offered where another way is told already."""
FEWEST_BOXES, USUAL_BOXES = 2, 4
MOST_KEPT = 4096
MOST_SHAPES = 1024
_KEPT: dict[tuple[Any, ...], Field] = {}
_SHAPES: dict[tuple[Any, ...], Shaped] = {}


def form(
    owner: Owner,
    example: Mapping[str, Any],
    told: Mapping[str, str],
    errors: Sequence[FieldError] = (),
    taken: Mapping[str, str] | None = None,
) -> Form:
    """The form of a calculator, with a question in it."""
    taken = taken or {}
    if errors or any("[" in name or "." in name for name in told):
        made = _Maker(owner, told, errors, taken, example=example)
        return Form(made.shape(lasting=False), made.typed, taken)
    apart = {name: _figures(owner.inputs[name], value) for name, value in told.items() if name in owner.inputs}
    alike = tuple((name, _told(owner.inputs[name], figures), unit) for name, (figures, unit) in apart.items())
    key = owner, alike, told.get("cells"), frozenset(taken)
    shape = _SHAPES.get(key)
    if shape is None:
        if len(_SHAPES) >= MOST_SHAPES:
            _SHAPES.clear()
        shape = _SHAPES[key] = _Maker(owner, told, errors, taken, example=example).shape(lasting=True)
    boxes = {
        box: figure
        for name, (figures, _) in apart.items()
        for box, figure in zip(shape.boxes.get(name, ()), figures, strict=False)
    }
    return Form(shape, boxes, taken)


def _figures(entry: Input, value: str) -> tuple[list[str], str]:
    """What was typed into the boxes of an input, and the unit picked beside them."""
    if isinstance(entry.spec, Flag):
        return [value.lower()], ""
    if isinstance(entry.spec, Words):
        try:
            return [reader(entry)(value)], ""
        except Unreadable:
            return [value], ""
    return typed.apart(value, entry.spec, entry.many)


def _told(entry: Input, figures: Sequence[str]) -> tuple[Any, ...]:
    """What a field shows of what is in its boxes: of most only whether anything is, since it has room for it."""
    return tuple(figures if isinstance(entry.spec, Words | Flag) else map(bool, figures))


class _Maker:
    """Parts of a form out of an owner's inputs; of a nested one, ``before`` is its place: ``packs[0].``."""

    def __init__(
        self,
        owner: Owner,
        told: Mapping[str, str],
        errors: Sequence[FieldError],
        taken: Mapping[str, str],
        before: str = "",
        hinted: bool = True,
        example: Mapping[str, Any] | None = None,
        short: bool = False,
    ) -> None:
        self.short = short
        self.typed: dict[str, str] = {}
        self.boxes: dict[str, tuple[str, ...]] = {}
        self.hinted, self.example = hinted, example or {}
        self.spare = before != "" and not any(name.startswith(before) for name in told)
        self.owner, self.told, self.errors, self.taken, self.before = owner, told, errors, taken, before
        self.wrong = {error.field for error in errors}
        self.missing = self.wrong - {error.field for error in errors if error.code != "missing"}

    def shape(self, lasting: bool) -> Shaped:
        """All parts of a form."""
        inputs, first = self.owner.inputs, first_inputs(self.owner, frozenset(self.example))
        told = {base(name) for name in self.told}
        # What an input that was told at first excludes would only make a conflict.
        excluded = {name for rule in self.owner.rules if rule.members & told & first for name in rule.names} - told
        rest = [name for name in inputs if name not in first | excluded]
        return Shaped(
            first=self.parts([name for name in inputs if name in first]),
            more=self.parts([name for name in rest if not inputs[name].spec.aside]),
            aside=self.parts([name for name in rest if inputs[name].spec.aside]),
            boxes=self.boxes,
            lasting=lasting,
        )

    def parts(self, names: Sequence[str]) -> tuple[Part, ...]:
        made: list[Part] = []
        for node in nodes(tuple(names), self.owner.rules):
            if self.short and isinstance(node, Choice):
                made += map(self._part, sorted(node.ways, key=self._used)[0])
            else:
                made.append(self._part(node))
        return tuple(made)

    def _needed(self, choice: Choice) -> bool:
        names = set(_names(choice))
        return any(rule.required and rule.members <= names for rule in self.owner.rules)

    def _used(self, way: Sequence[Node]) -> int:
        """What makes a way stand first: that it is used, or that the first example uses it."""
        names = [each for node in way for each in ([node] if isinstance(node, str) else _names(node))]
        places = {f"{self.before}{name}" for name in names}
        told = any(key in places or (not self.before and base(key) in places) for key in self.told)
        return 0 if told else 1 if any(name in self.example for name in names) else 2

    def _size(self, way: Sequence[Node]) -> int:
        """The inputs of a way; of rows those of one row."""
        names = [each for node in way for each in ([node] if isinstance(node, str) else _names(node))]
        items = (self.owner.inputs[name].item for name in names)
        return sum(1 if item is None else len(first_inputs(item, frozenset())) for item in items)

    def _part(self, node: Node) -> Part:
        if isinstance(node, Choice):
            ways = sorted(node.ways, key=self._used)
            if self.spare or (not self.hinted and not self._needed(node)):
                ways = [way for place, way in enumerate(ways) if place == 0 or self._used(way) == 0]
            elif self._used(ways[0]) == 0:
                ways = [way for way in ways if self._used(way) == 0 or self._size(way) <= MOST_OTHERWISE]
            return Ways(node.asked or "One of these:", tuple(tuple(map(self._part, way)) for way in ways))
        entry = self.owner.inputs[node]
        return self._rows(entry) if typed.is_nested(entry) else self._field(entry)

    def _field(self, entry: Input) -> Field:
        """A field; one of which nothing wrong is to be said is made once."""
        name = f"{self.before}{entry.name}"
        value = self.told.get(name, "")
        figures, unit = _figures(entry, value) if value else ([""], "")
        if name in self.wrong:
            made = self._new(entry, name, figures, unit, tuple(self._told_of(entry, name, value)))
        else:
            told = _told(entry, figures)
            cells = self._cells() if entry.many else 0
            key = self.owner, name, self.hinted, self.short, name in self.taken, cells, told, unit
            kept = _KEPT.get(key)
            if kept is None:
                if len(_KEPT) >= MOST_KEPT:
                    _KEPT.clear()
                kept = _KEPT[key] = self._new(entry, name, figures, unit)
            made = kept
        if value:
            self.boxes[name] = tuple(box.name for box in made.boxes)
            self.typed |= zip(self.boxes[name], figures, strict=False)
        return made

    def _new(self, entry: Input, name: str, figures: list[str], unit: str, errors: tuple[str, ...] = ()) -> Field:
        spec = entry.spec
        told = figures != [""]
        units: tuple[str, ...] = ()
        options: tuple[tuple[str, str], ...] = ()
        kind = "number"
        if isinstance(spec, Quantity):
            units = spec.dimension.offered
            unit = unit or _usual_unit(spec)
            if unit not in units:
                units = (*units, unit)
        elif isinstance(spec, Fraction):
            units, unit = (typed.PERCENT, typed.PART), unit or typed.PERCENT
            if not told:
                unit = typed.PERCENT
        elif isinstance(spec, Rate):
            units, unit = ("C",), "C"
        elif isinstance(spec, Words):
            said = at_first if self.hinted or not self.before else briefly
            kind, options = "choice", tuple((option, said(spec.said(option))) for option in spec.options)
            if told and figures[0] not in spec.options:
                options = ((figures[0], figures[0]), *options)
        elif isinstance(spec, Flag):
            kind, options = "choice", (("true", "yes"), ("false", "no"))
        elif isinstance(spec, Text):
            kind = "text"
        boxes = self._boxes(entry, name, figures) if kind == "number" else (Box(name, figures[0] if figures else ""),)
        short = self.short and not errors and len(boxes) == 1
        if short and len(units) > 1:
            boxes, units = (boxes[0]._replace(name=f"{name}:{unit}"),), (unit,)
        if kind != "choice":
            boxes = tuple(box._replace(value=ROOM.format(box.name) if box.value else "") for box in boxes)
        return Field(
            name=name,
            label=labelled(entry),
            kind=kind,
            hint=hint(entry.label, entry.spec.meaning) if self.hinted and not options else "",
            boxes=boxes,
            units=units,
            unit=unit,
            options=options,
            taken=TAKEN.format(name) if name in self.taken else "",
            errors=errors,
            lacking=bool(errors) and name in self.missing,
            required=entry.required,
            short=short,
            told=any(box.value for box in boxes),
        )

    def _boxes(self, entry: Input, name: str, figures: list[str]) -> tuple[Box, ...]:
        """One box, or one for each cell, load or reading."""
        if not entry.many or (entry.one and len(figures) < FEWEST_BOXES and figures != [""] and figures):
            return (Box(name, figures[0] if figures else ""),)
        if entry.one and len(figures) < FEWEST_BOXES:
            return (Box(name, figures[0] if figures else ""),)
        count = max(len(figures) + (0 if self._cells() else 1), self._cells() or USUAL_BOXES, FEWEST_BOXES)
        values = [*figures, *[""] * count][: min(count, typed.MOST_BOXES)]
        kind = _box(entry)
        return tuple(Box(f"{name}:{place}", value, f"{kind} {place}") for place, value in enumerate(values, 1))

    def _cells(self) -> int:
        told = self.told.get(f"{self.before}cells", "")
        return int(told) if told.isascii() and told.isdecimal() and len(told) < 3 else 0

    def _rows(self, entry: Input) -> Rows:
        assert entry.item is not None
        name = f"{self.before}{entry.name}"
        places = range(min(typed.held(self.told, name), 63) + 1) if entry.many else (None,)
        several = entry.required or len(self.example.get(entry.name, ())) > 1
        wanted = 2 if entry.many and several else 1
        if entry.many and len(places) < wanted:
            places = range(wanted)
        single = name.removesuffix("s") if entry.many else name
        example = _example_of(entry)
        first = first_inputs(entry.item, frozenset(example))
        many = len({key.partition(".")[0] for key in self.told if "]." in key}) >= MANY_ROWS
        rows = []
        for place in places:
            path = name if place is None else f"{name}[{place}]"
            told = {each for each in entry.item.inputs if f"{path}.{each}" in self.told}
            filled = any(key.startswith(f"{path}.") for key in self.told)
            short = place is not None and many
            inner = _Maker(
                entry.item, self.told, self.errors, self.taken, f"{path}.", not place, example=example, short=short
            )
            inner.typed = self.typed
            if filled and (short or (place or 0) >= FULL_ROWS):
                shown = {each for each in first if each in told or entry.item.inputs[each].required}
            else:
                shown = set(first)
            more = told - first
            if short:
                shown, more = shown | more, set()
            if filled and not place:
                more |= set(TELLING) & (entry.item.inputs.keys() - shown)
            rows.append(
                Row(
                    title=f"{capitalised(single.replace('_', ' '))} {place + 1}" if place is not None else "",
                    parts=inner.parts(sorted([each for each in entry.item.inputs if each in shown], key=_not_the_name)),
                    more=inner.parts([each for each in entry.item.inputs if each in more]),
                    errors=tuple(self._said(error) for error in self.errors if error.field == path),
                )
            )
        own = tuple(self._said(error) for error in self.errors if error.field == name)
        names = [self.told.get(f"{name}[{place}].name", f"{place + 1}") for place in range(len(rows) - 1)]
        folded = ", ".join(names) if len(names) >= MANY_ROWS else ""
        return Rows(name, labelled(entry), tuple(rows), own, folded)

    def _told_of(self, entry: Input, name: str, value: str) -> Iterator[str]:
        for error in self.errors:
            if error.field == name:
                if figure := typed.ambiguous(value):
                    small, large = figure.replace(",", "."), figure.replace(",", "")
                    yield f"{figure} can be read as {small} or as {large}: write one of them."
                    return
                if entry.many and (blank := typed.blank(value)):
                    yield f"{capitalised(_box(entry))} {blank} is empty: fill it in too, or empty those after it."
                    return
                yield self._said(error) + _other_unit(entry, value, error)

    def _said(self, error: FieldError) -> str:
        said = re.sub(r"^packs\[\d+\]: |^loads\[\d+\]: |^[a-z_]+\[\d+\]: ", "", error.message)
        said = capitalised(spoken(said))
        return said if said.endswith("?") else f"{said}."


def _other_unit(entry: Input, value: str, error: FieldError) -> str:
    """A hint at another of the units offered, with which the figure would be in range."""
    spec = entry.spec
    if error.code != "out_of_range" or not isinstance(spec, Quantity):
        return ""
    figures, unit = typed.apart(value, spec, entry.many)
    read = reader(entry)
    try:
        read(value)
    except Unreadable:
        pass
    else:  # it is another input's value that this one does not go with
        return ""
    for other in spec.dimension.offered:
        if other == unit or len(figures) != 1:
            continue
        try:
            read(f"{figures[0]} {other}")
        except Unreadable:
            continue
        return f" Did you mean {figures[0]} {other}?"
    return ""


def _not_the_name(name: str) -> bool:
    """What a thing is called stands before all else of it."""
    return name != "name"


def _box(entry: Input) -> str:
    """What one of several boxes of an input is called."""
    return "cell" if "cell" in entry.name or entry.one else "value"


def _names(choice: Choice) -> list[str]:
    return [name for way in choice.ways for node in way for name in ([node] if isinstance(node, str) else _names(node))]


def _usual_unit(spec: Quantity) -> str:
    """The unit of the example, which is what a label or meter shows."""
    _, unit = typed.apart((spec.example or "").replace(" ", ""), spec)
    return unit or spec.unit


def _example_of(entry: Input) -> Mapping[str, Any]:
    example = entry.spec.example
    if isinstance(example, list) and example:
        example = example[0]
    return example if isinstance(example, Mapping) else {}
