"""Writes openapi.json from the calculators, and from it the client's calculators.py; examples.json holds their answers.

python openapi/generate.py          writes them
python openapi/generate.py --check  says what is stale, and exits with 1

One file, since it is run and loaded by its path: what reads the document and what writes the client go together.
Figures of answers are rounded, and compared as figures: a solver's last digits are those of a processor.
"""

from __future__ import annotations

import json
import subprocess
import sys
import textwrap
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ampstead.declare import Calculator

HERE = Path(__file__).resolve().parent
SPEC = HERE / "openapi.json"
CLIENT = HERE.parent / "client" / "ampstead_client" / "calculators.py"
EXAMPLES = CLIENT.with_name("examples.json")
DIGITS = 6
"""Significant digits of the figures of examples: from the eleventh on they differ between processors."""
RUFF = [sys.executable, "-m", "ruff"]

Schema = dict[str, Any]

HEADER = '''"""The calculators, one method each, as `openapi/generate.py` writes them from `openapi/openapi.json`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal, TypeAlias, TypedDict

from ampstead_client.base import ClientBase
from ampstead_client.beyond import Kinds
from ampstead_client.envelope import Answer
from ampstead_client.quantity import QuantitiesLike, Quantity, QuantityLike
'''


TYPED_ANSWER = '''@dataclass(frozen=True, kw_only=True, repr=False)
class TypedAnswer(Answer):
    """An answer of one of the calculators below, its inputs typed."""

    question: Inputs
    """The inputs as the service read them; quantities are `Quantity`, lists are tuples."""
    assumed: Inputs
    """Every default that was used, in the same form; of nested inputs under names such as `packs[0].temperature`."""
'''


RAISES = "Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`."


def current_spec() -> Any:
    """The document of the service as it stands."""
    from ampstead.calculators import registry
    from ampstead.openapi import document

    return document(registry())


def solved_examples() -> Any:
    """Each calculator's answer to its first example, and the forms it comes in, a table with the heads of its columns.

    Figures are as solved here.
    """
    from ampstead.calculators import registry

    return {name: example(calculator) for name, calculator in registry().items()}


def example(calculator: Calculator) -> Any:
    """What the client's examples hold of one calculator."""
    from ampstead.openapi.operations import forms_of, heads
    from ampstead.replying.answers import answered

    told = {form: heads(calculator) if form == "csv" else "" for form in forms_of(calculator) if form != "txt"}
    forms = {form: columns for form, columns in told.items() if columns or form != "csv"}
    return {"answer": answered(calculator, calculator.examples[0]).envelope(), "forms": forms}


def written(spec: Any) -> str:
    """A document as its file holds it."""
    return json.dumps(spec, ensure_ascii=False, indent=1) + "\n"


def listed_examples(examples: Any) -> str:
    """Examples as their file holds them, a line for each calculator."""
    lines = (f"{json.dumps(name)}: {json.dumps(rounded(told), ensure_ascii=False)}" for name, told in examples.items())
    return "{" + ",\n".join(lines) + "}\n"


def rounded(document: Any) -> Any:
    """A document with every figure at so many significant digits.

    A tie goes away from nought, as far as 1e-9 of the figure can tell: solved on another processor it may lie on
    either side. What is left of a difference of equals is nought.
    """
    if isinstance(document, float):
        return float(f"{document * (1 + 1e-9):.{DIGITS}g}") if abs(document) > 1e-12 else 0.0
    if isinstance(document, dict):
        return {name: rounded(entry) for name, entry in document.items()}
    return [rounded(entry) for entry in document] if isinstance(document, list) else document


def agrees(committed: Any, solved: Any) -> bool:
    """Whether committed figures are the solved ones rounded, by figures that may differ by 1e-9 of their size."""
    if all(isinstance(figure, int | float) and not isinstance(figure, bool) for figure in (committed, solved)):
        reach = 1e-9 * abs(solved) + 1e-12
        low, high = rounded(solved - 2 * reach), rounded(solved + reach)
        return bool(low - reach <= committed <= high + reach)
    if type(committed) is not type(solved):
        return False
    if isinstance(committed, dict):
        return list(committed) == list(solved) and all(agrees(committed[name], solved[name]) for name in solved)
    if isinstance(committed, list):
        return len(committed) == len(solved) and all(map(agrees, committed, solved))
    return bool(committed == solved)


def current(committed: str, examples: Any) -> bool:
    """Whether the file of examples needs no writing: laid out as it would be, and agreeing with what was solved."""
    try:
        read = json.loads(committed)
    except ValueError:
        return False
    return isinstance(read, dict) and committed == listed_examples(read) and agrees(read, examples)


def pascal(name: str) -> str:
    return "".join(part[:1].upper() + part[1:] for part in name.replace("-", "_").split("_"))


def referred(schema: Schema) -> str | None:
    reference = schema.get("$ref")
    return reference.rsplit("/", 1)[-1] if reference else None


def with_own_inputs(schema: Schema, shared: dict[str, Schema]) -> Schema:
    """A schema whose inputs, which questions share under names that begin with `Given`, are written out."""
    properties = {
        name: shared[reference] if (reference := referred(inner) or "").startswith("Given") else inner
        for name, inner in schema.get("properties", {}).items()
    }
    return {**schema, "properties": properties} if properties else schema


class Client:
    """The client's module, made from a document and the examples of answers, which tell what these rest on."""

    def __init__(self, spec: Schema, examples: Schema) -> None:
        self.examples = examples
        shared: dict[str, Schema] = spec["components"]["schemas"]
        self.schemas = {name: with_own_inputs(schema, shared) for name, schema in shared.items()}
        self.operations = {
            path.removeprefix("/v1/"): item["post"]
            for path, item in spec["paths"].items()
            if "x-forms" in item.get("post", ())
        }
        self.aliases: dict[tuple[str, ...], str] = {}
        self.described: dict[str, str] = {}
        self.items: dict[str, str] = {}
        self.groups: dict[str, str] = {}
        questions = [schema for schema in self.schemas.values() if "x-groups" in schema]
        self.shared = sorted({pascal(group) for schema in questions for group in schema["x-groups"]})

    def module(self) -> str:
        results = [self.result(name) for name in self.operations]
        methods = [self.method(name, operation) for name, operation in self.operations.items()]
        aliases = [
            f"{name}: TypeAlias = Literal[{', '.join(map(repr, options))}]\n{docstring(self.described[name], '')}\n"
            for options, name in sorted(self.aliases.items(), key=lambda entry: entry[1])
        ]
        names = sorted(
            {
                "Calculators",
                "Inputs",
                "TypedAnswer",
                *self.aliases.values(),
                *self.items,
                *self.groups,
                *map(pascal, self.operations),
            }
        )
        own = ["_pack_class = Pack"] if "Pack" in self.groups else []
        kinds = ", ".join(f'"{name}": {pascal(name)}' for name in self.operations)
        own += [f"_kinds: ClassVar[Kinds] = {{{kinds}}}", '"""The class of each calculator\'s answers."""']
        parts = [
            HEADER,
            f"__all__ = {names!r}\n",
            *aliases,
            *self.groups.values(),
            *self.items.values(),
            self.inputs(),
            TYPED_ANSWER,
            *results,
            "\n    ".join(['class Calculators(ClientBase):\n    """One method for each calculator."""\n', *own])
            + "\n\n"
            + "\n".join(methods),
        ]
        return "\n\n".join(parts)

    def alias(self, name: str, schema: Schema) -> str:
        options = tuple(schema["enum"])
        if options not in self.aliases:
            self.aliases[options] = name
            self.described[name] = schema.get("description", "").partition(" If not given: ")[0]
        return self.aliases[options]

    def input_type(self, name: str, schema: Schema) -> str:
        reference = referred(schema)
        if reference and reference.endswith("ListInput"):
            return "QuantitiesLike"
        if reference and reference.endswith("Input"):
            return "QuantityLike"
        if reference:
            return self.element_type(schema)
        if "enum" in schema:
            return self.alias(pascal(name), schema)
        kind = schema.get("type")
        if kind == "array":
            return f"Sequence[{self.element_type(schema['items'])}]"
        if kind:
            return {"boolean": "bool", "string": "str", "integer": "int", "number": "float"}[kind]
        choices = schema["anyOf"]
        array = next((choice for choice in choices if choice.get("type") == "array"), None)
        if array is not None:
            plain = " | float" if any(choice.get("type") == "number" for choice in choices) else ""
            return f"Sequence[{self.element_type(array['items'])}]{plain} | str"
        if choices[0]["type"] == "string":
            return "QuantityLike"
        return "int" if choices[0]["type"] == "integer" else "float | str"

    def element_type(self, items: Schema) -> str:
        types = []
        for choice in items.get("anyOf", [items]):
            reference = referred(choice)
            if reference is None or reference.endswith("Text"):
                types.append("str" if reference else "float")
            elif reference.endswith("Input"):
                types.append("QuantityLike")
            else:
                self.item_in(reference)
                types += [reference, "Mapping[str, Any]"]
        return " | ".join(types)

    def inputs(self) -> str:
        """The class of the inputs that answers tell; a name means the same in every calculator."""
        told: dict[str, tuple[str, str]] = {}
        for name in self.operations:
            for entry, schema in self.schemas[f"{pascal(name)}Question"]["properties"].items():
                kind = self.told_type(entry, schema)
                if len(kind) > len(told.get(entry, ("",))[0]):
                    told[entry] = kind, f"{entry.replace('_', ' ').capitalize()}{unit(schema)}."
        lines = "\n".join(f'    {name}: {kind}\n    """{said}"""' for name, (kind, said) in sorted(told.items()))
        described = "Inputs, those that an answer tells; a name means the same, in the same unit, in every calculator."
        return f'class Inputs(TypedDict):\n    """{described}"""\n\n{lines}\n'

    def told_type(self, name: str, schema: Schema) -> str:
        """What an input given as `input_type` says comes back as."""
        asked = self.input_type(name, schema)
        if asked == "QuantitiesLike":
            return "Quantity | tuple[Quantity, ...]"
        if asked == "QuantityLike":
            return "Quantity" if "x-unit" in schema else "str"
        if asked.startswith("Sequence[float"):
            return "tuple[float, ...]"
        if asked.startswith("Sequence"):
            return "tuple[Mapping[str, Any], ...]"
        return "Mapping[str, Any]" if "Mapping" in asked else asked.removesuffix(" | str")

    def fields_in(self, schema: Schema) -> list[str]:
        lines = []
        for name, inner in schema["properties"].items():
            lines += [f"{name}: {self.input_type(name, inner)} | None = None", docstring(meaning_in(inner))]
        return lines

    def item_in(self, name: str) -> None:
        """A nested input; one that takes all of a group is a kind of it, and tells what it adds or means otherwise."""
        if name in self.items:
            return
        schema = self.schemas[name]
        fields = pairs(self.fields_in(schema))
        for group in self.shared:
            base = pairs(self.fields_in(self.schemas[group]))
            if {field for field, _ in base} <= {field for field, _ in fields}:
                own = [line for pair in fields if pair not in base for line in pair]
                self.items[name] = dataclass(name, f"({group})", schema["description"], own)
                return
        self.items[name] = dataclass(name, "", schema["description"], [line for pair in fields for line in pair])

    def output_type(self, owner: str, name: str, schema: Schema) -> str:
        if "anyOf" in schema and schema["anyOf"][-1].get("type") == "null":
            meaning, _, _ = schema.get("description", "").rstrip(".").partition(";")  # behind it stands when it is none
            told = {"description": f"{meaning}."} | schema["anyOf"][0]
            return self.output_type(owner, name, told) + " | None"
        reference = referred(schema)
        if reference:
            inner = self.schemas[reference]
            if "x-unit" in inner:
                return f'Annotated[Quantity, "{inner["x-unit"]}"]'
            if reference not in self.items:
                self.items[reference] = dataclass(
                    reference, "", inner["description"], self.fields_out(reference, inner)
                )
            return reference
        if schema.get("type") == "array":
            return f"tuple[{self.output_type(owner, name, schema['items'])}, ...]"
        if "enum" in schema:
            return self.alias(owner + pascal(name), schema)
        return {"boolean": "bool", "string": "str", "integer": "int", "number": "float"}[schema["type"]]

    def fields_out(self, owner: str, schema: Schema) -> list[str]:
        lines = []
        for name, inner in schema["properties"].items():
            described = inner if "description" in inner else schema
            mixed = "  # noqa: N815" if name != name.lower() else ""
            lines += [f"{name}: {self.output_type(owner, name, described)}{mixed}", docstring(meaning_out(described))]
        return lines

    def result(self, name: str) -> str:
        owner = pascal(name)
        schema = self.schemas[f"{owner}Results"]
        sources = "\n".join(folded(f"- {source}") for source in self.examples[name]["answer"]["sources"])
        told = f"Answer of `{name.replace('-', '_')}`. It rests on:\n\n{sources}\n"
        described = textwrap.indent(told, "    ").strip() + "\n    "
        return dataclass(owner, "(TypedAnswer)", described, self.fields_out(owner, schema))

    def method(self, name: str, operation: Schema) -> str:
        owner = pascal(name)
        question = self.schemas[f"{owner}Question"]
        properties: dict[str, Schema] = question["properties"]
        required = set(question.get("required", ()))
        groups = question.get("x-groups", {})
        grouped = {entry for names in groups.values() for entry in names}
        for group in groups:
            self.groups.setdefault(
                pascal(group),
                dataclass(
                    pascal(group),
                    "",
                    f"{self.schemas[pascal(group)]['description'].rstrip('.')}; each calculator takes what it uses.",
                    self.fields_in(self.schemas[pascal(group)]),
                ),
            )
        order = sorted(properties, key=lambda entry: (entry in grouped, entry not in required))
        arguments = [f"{group}: {pascal(group)} | Mapping[str, Any] | None = None" for group in groups]
        told = [f"- `{group}`: the {group}'s inputs in one; those given beside it win." for group in groups]
        for entry in order:
            kind = self.input_type(entry, properties[entry])
            bare = entry in required and entry not in grouped
            arguments.append(f"{entry}: {kind}" if bare else f"{entry}: {kind} | None = None")
            told.append(f"- `{entry}`: {lowered(meaning_in(properties[entry]))}")
        rules = question.get("x-one-of", [])
        needs = [f"Needs one of {listed(rule['names'])}." for rule in rules if rule["required"]]
        alone = exclusions([rule["names"] for rule in rules if not rule["required"]])
        paragraphs = [
            operation["summary"],
            *(["\n".join(wrapped(" ".join(needs + alone)))] if rules else []),
            "\n".join(map(folded, told)),
            RAISES,
        ]
        asked = ", ".join(f'"{entry}": {entry}' for entry in order)
        extra = "".join(f", {group}={group}" for group in groups)
        if rules and groups:
            exclusive = ", ".join("(" + ", ".join(f'"{entry}"' for entry in rule["names"]) + ")" for rule in rules)
            extra += f", exclusive=({exclusive},)"
        body = textwrap.indent('"""' + "\n\n".join(paragraphs) + '\n"""', "        ")
        return (
            f"    def {operation['operationId']}(self, *, {', '.join(arguments)},) -> {owner}:\n{body}\n"
            f'        return self._ask("{name}", {owner}, {{{asked},}}{extra})\n'
        )


def exclusions(rules: list[list[str]]) -> list[str]:
    """Sentences for inputs that exclude each other; one for an input that excludes many, each by itself."""
    pairs: dict[str, list[str]] = {}
    for names in rules:
        if len(names) == 2:
            pairs.setdefault(names[0], []).append(names[1])
    many = {name for name, others in pairs.items() if len(others) > 2}
    told = [f"At most one of {listed(names)}." for names in rules if len(names) != 2 or names[0] not in many]
    return told + [f"`{name}` goes without {listed(others)}." for name, others in pairs.items() if name in many]


def pairs(lines: list[str]) -> list[tuple[str, str]]:
    """Fields, each with its docstring."""
    return list(zip(lines[::2], lines[1::2], strict=True))


def listed(names: list[str]) -> str:
    quoted = [f"`{name}`" for name in names]
    return f"{', '.join(quoted[:-1])} and {quoted[-1]}"


def lowered(text: str) -> str:
    return text[:1].lower() + text[1:]


def folded(entry: str) -> str:
    return textwrap.fill(entry, 108, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)


def unit(schema: Schema) -> str:
    return f" [{schema['x-unit']}]" if "x-unit" in schema else ""


def meaning(schema: Schema) -> str:
    return f"{schema['description'].rstrip('.')}{unit(schema)}."


def meaning_out(schema: Schema) -> str:
    return meaning(schema).replace("null", "None")


def meaning_in(schema: Schema) -> str:
    return str(schema["description"])


def wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, 108, break_long_words=False, break_on_hyphens=False)


def docstring(text: str, indent: str = "    ") -> str:
    lines = wrapped(text)
    return f'"""{lines[0]}"""' if len(lines) == 1 else '"""' + f"\n{indent}".join(lines) + f'\n{indent}"""'


def dataclass(name: str, base: str, described: str, fields: list[str]) -> str:
    body = "\n".join(f"    {line}" for line in fields)
    shown = ", repr=False" if base == "(TypedAnswer)" else ""  # an answer shows itself in a few lines
    return f'@dataclass(frozen=True, kw_only=True{shown})\nclass {name}{base}:\n    """{described}"""\n\n{body}\n'


def formatted(source: str) -> str:
    for command in (["check", "--quiet", "--fix-only", "--select", "I,F401,UP", "-"], ["format", "-"]):
        arguments = [*RUFF, *command, "--stdin-filename", str(CLIENT)]
        source = subprocess.run(arguments, input=source, capture_output=True, text=True, check=True).stdout
    return source


def main() -> int:
    if not find_spec("ruff"):
        print(
            "The client's module is formatted with ruff, which this Python lacks: run  sh tests/run  once, "
            "then  .venv/bin/python openapi/generate.py",
            file=sys.stderr,
        )
        return 2
    check = "--check" in sys.argv[1:]
    spec, solved = current_spec(), solved_examples()
    committed = EXAMPLES.read_text(encoding="utf-8") if EXAMPLES.exists() else ""
    examples = committed if current(committed, solved) else listed_examples(solved)
    client = formatted(Client(spec, json.loads(examples)).module())
    stale = [
        (path, text)
        for path, text in ((SPEC, written(spec)), (CLIENT, client), (EXAMPLES, examples))
        if not path.exists() or path.read_text(encoding="utf-8") != text
    ]
    for path, text in stale:
        if check:
            print(f"{path.name} is stale: run  python openapi/generate.py")
        else:
            path.write_text(text, encoding="utf-8")
            print(f"{path.name} written, {len(text.splitlines())} lines")
    return 1 if check and stale else 0


if __name__ == "__main__":
    sys.exit(main())
