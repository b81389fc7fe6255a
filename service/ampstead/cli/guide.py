"""What ``ampstead ask CALCULATOR --help`` tells: inputs with units, bounds, defaults and examples, and the results."""

from collections.abc import Iterable, Iterator, Mapping
from shlex import quote
from textwrap import fill
from typing import Any

from ampstead.cli.terminal import aligned, figure, kept_together, width
from ampstead.declare import (
    NOTHING,
    Bounds,
    Calculator,
    Choice,
    Derived,
    Flag,
    Input,
    Items,
    Nested,
    Quantity,
    Result,
)
from ampstead.replying.writers import shown


def told(calculator: Calculator) -> str:
    """The help of one calculator, from its declaration."""
    inputs = calculator.inputs.values()
    needed = [entry for entry in inputs if entry.required and entry.default is NOTHING]
    parts = [
        f"ampstead ask {calculator.name} name=value ...\n\n{fill(calculator.summary + '.', width())}",
        _section("Needed", needed),
        _section("May be given", [entry for entry in inputs if entry not in needed]),
        "\n".join(
            f"{'One' if rule.required else 'At most one'} of {', '.join(rule.names)}." for rule in calculator.rules
        ),
        "Answers\n" + aligned(map(_result, calculator.results.values()), "  "),
        f"Forms: {', '.join(('json', 'txt', *(form[1:] for form in calculator.forms)))}",
        "For example\n" + "\n".join(f"  {example(calculator.name, asked)}" for asked in calculator.examples),
    ]
    return "\n\n".join(part for part in parts if part)


def _section(title: str, inputs: Iterable[Input]) -> str:
    rows = [row for entry in inputs for row in _rows(entry)]
    return f"{title}\n{aligned(rows, '  ')}" if rows else ""


def _rows(entry: Input) -> Iterator[tuple[str, str]]:
    """An input, and behind it what it nests, under the names by which that may be given."""
    yield entry.name, said(entry)
    for inner in entry.item.inputs.values() if entry.item else ():
        name = f"{entry.name}{'[0]' if entry.many else ''}.{inner.name}"
        yield name, said(inner, name)


def said(entry: Input, name: str = "") -> str:
    """What an input means, in which unit, within which bounds, what is taken without it, and an example."""
    spec = entry.spec
    unit = f" [{spec.unit}]" if isinstance(spec, Quantity) else ""
    parts = [spec.meaning.rstrip(".") + unit]
    if isinstance(spec, Bounds) and (bounds := bounds_of(spec)):
        parts.append(bounds)
    if isinstance(spec, Choice):
        parts.append(f"one of {', '.join(spec.options)}")
    if isinstance(spec, Flag):
        parts.append("true or false")
    if isinstance(spec, Items | Nested) and entry.item:
        short = f"a plain {spec.shorthand}, or " if isinstance(spec, Items) and spec.shorthand else ""
        parts.append(f"{'each ' if entry.many else ''}{short}what follows")
    text = "; ".join(parts) + "."
    if isinstance(entry.default, Derived):
        text += f" If not given: {entry.default.text}."
    elif entry.default is not NOTHING:
        text += f" If not given: {figure(shown(entry, entry.default), spec)}."
    sample = getattr(spec, "example", None)
    return (
        text
        if sample is None or isinstance(sample, Mapping | list)
        else f"{text} Like {kept_together(_pair(name or entry.name, sample))}"
    )


def bounds_of(spec: Bounds) -> str:
    """The range of an input in words: ``above 0, at most 200 Ah``; empty where there is none."""
    pairs = (
        ("above", spec.above),
        ("at least", spec.at_least),
        ("below", spec.below),
        ("at most", spec.at_most),
    )
    return ", ".join(f"{words} {bound}" for words, bound in pairs if bound is not None)


def _result(result: Result) -> tuple[str, str]:
    unit = f" [{result.spec.unit}]" if isinstance(result.spec, Quantity) else ""
    return result.name, result.spec.meaning.rstrip(".").replace("null", "none") + unit + "."


def example(name: str, question: Mapping[str, Any]) -> str:
    """A command that asks an example."""
    if any(isinstance(value, Mapping) or _nested(value) for value in question.values()):
        import json

        return f"ampstead ask {name} --json {quote(json.dumps(question, ensure_ascii=False))}"
    return " ".join(["ampstead ask", name, *(_pair(entry, value) for entry, value in question.items())])


def _nested(value: Any) -> bool:
    return isinstance(value, list) and any(isinstance(entry, Mapping) for entry in value)


def _pair(name: str, value: Any) -> str:
    text = ",".join(map(str, value)) if isinstance(value, list | tuple) else str(value)
    if isinstance(value, bool):
        text = text.lower()
    return f'{name}="{text}"' if " " in text and not set(text) & set('"$`\\') else f"{name}={quote(text)}"
