"""One question, one answer: what a calculator says, and how each form of it is written.

Everything that its declaration settles (which inputs a sentence names, how each result is written, what stands in
every answer) is worked out once per calculator, in ``Teller``. No calculator is known here by name; one that cannot
answer a question raises ``Refusal``.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from inspect import signature
from json import loads
from typing import Any

from ampstead.declare import Band, Calculator, Caution
from ampstead.judging.cautions import ranked
from ampstead.reading.items import Item
from ampstead.reading.plan import Question, Shape, plan
from ampstead.replying.on_the_ground import never_flown, on_the_ground
from ampstead.replying.subject import subject
from ampstead.replying.writers import Writer, quoted, several, table, writer


@lru_cache(maxsize=1)
def service_version() -> str:
    """This package's version."""
    try:
        return version("ampstead")
    except PackageNotFoundError:
        return "0+unknown"


Told = Callable[[Any, Mapping[str, Any]], Any]


def _told(function: Callable[..., Any] | None, nothing: Any = ()) -> Told:
    """A calculator's sentence, cautions or accuracy, given the answer and just what else it names."""
    if function is None:
        return lambda answer, known: nothing
    names = tuple(name for name in signature(function).parameters if name != "answer")
    if len(names) < 2:
        return (
            (lambda answer, known: function(answer, **{name: known[name]}))
            if (name := "".join(names))
            else (lambda answer, known: function(answer))
        )
    return lambda answer, known: function(answer, **{name: known[name] for name in names})


class Teller:
    """How a calculator's answers are told, compiled once."""

    def __init__(self, calculator: Calculator) -> None:
        self.calculator = calculator
        self.plan = plan(calculator)
        self.function = calculator.function
        self.sentence = _told(calculator.sentence)
        self.cautions = _told(calculator.cautions)
        self.accuracy = _told(calculator.accuracy)
        self.curve = _told(calculator.curve)
        self.picture = _told(calculator.picture)
        self.inputs: Mapping[str, tuple[str, Writer]] = {
            name: (f"{quoted(name)}:", writer(entry)) for name, entry in calculator.inputs.items()
        }
        self.results = [(name, f"{quoted(name)}:", writer(result)) for name, result in calculator.results.items()]
        self.edges = {name: (f'{{"of":{quoted(name)},"low":', several(write)) for name, _, write in self.results}
        self.nested = {
            name: {inner: (f'{inner}":', writer(each)) for inner, each in entry.item.inputs.items()}
            for name, entry in calculator.inputs.items()
            if entry.item
        }
        """How the inputs of nested items are written, after their path."""
        self.head = f'{{"calculator":{quoted(calculator.name)},"version":{quoted(service_version())},"question":{{'
        self.tail = f'],"sources":[{",".join(quoted(source) for source in calculator.sources)}]}}'

    def answered(self, raw: Mapping[str, Any]) -> "Answered":
        """The answer to a raw question.

        Raises
        ------
        Refusal
            If the question cannot be answered.
        """
        return self.told(self.plan.read(raw))

    def told(self, question: Question) -> "Answered":
        """The answer to a question that has been read."""
        known = self.plan.arguments(question)
        answer = self.function(**known)
        names = question.shape.given_names
        if self.nested:
            names = names.union(f"{path}.{inner}" for path, item in self.items(question) for inner in item.given)
        known["given"] = names
        bands = self.accuracy(answer, known)
        if never_flown(known):
            bands = (band._replace(basis=on_the_ground(band.basis)) for band in bands)
        known["bands"] = {band.of: band for band in bands}
        return Answered(self, question, answer, known)

    def fixed(self, shape: Shape) -> Mapping[str, str]:
        """The defaults that a set of names settles, as written; kept with what else follows from the set."""
        if shape.written is None:
            inputs = self.inputs
            shape.written = {name: inputs[name][0] + inputs[name][1](value) for name, value in shape.plain.items()}
        return shape.written

    def items(self, question: Question) -> Iterator[tuple[str, Item]]:
        """The nested items given, each with its path."""
        for name in self.nested:
            value = question.given.get(name)
            if isinstance(value, Item):
                yield name, value
            elif value is not None:
                yield from ((f"{name}[{place}]", item) for place, item in enumerate(value))


@lru_cache(maxsize=512)
def teller(calculator: Calculator) -> Teller:
    """How a calculator's answers are told, made once."""
    return Teller(calculator)


class Answered:
    """A question and its answer, from which every form of reply is made."""

    __slots__ = ("answer", "known", "on_the_ground", "question", "teller")

    def __init__(self, teller: Teller, question: Question, answer: Any, known: Mapping[str, Any]) -> None:
        self.teller = teller
        self.question = question
        self.answer = answer
        self.known = known
        self.on_the_ground = never_flown(known)

    def json(self) -> str:
        """The whole answer as the contract writes it: the envelope."""
        teller, question, answer = self.teller, self.question, self.answer
        inputs = teller.inputs
        given = [inputs[name][0] + inputs[name][1](value) for name, value in question.given.items()]
        results = [key + write(getattr(answer, name)) for name, key, write in teller.results]
        return (
            f'{teller.head}{",".join(given)}}},"assumed":{{{self._assumed()}}},"answer":{{{",".join(results)}}},'
            f'"accuracy":[{self._bands()}],"sentence":{quoted(self.sentence())},"cautions":[{self.cautions_written()}'
            f"{teller.tail}"
        )

    def brief(self) -> str:
        """What a batch says of it: the answer, what was assumed, how sure it is and what to heed."""
        results = [key + write(getattr(self.answer, name)) for name, key, write in self.teller.results]
        return (
            f'{{"answer":{{{",".join(results)}}},"assumed":{{{self._assumed()}}},"accuracy":[{self._bands()}],'
            f'"cautions":[{self.cautions_written()}]}}'
        )

    def _assumed(self) -> str:
        teller, question = self.teller, self.question
        inputs, fixed = teller.inputs, teller.fixed(question.shape)
        assumed = [
            fixed.get(name) or inputs[name][0] + inputs[name][1](value) for name, value in question.assumed.items()
        ]
        for path, item in teller.items(question) if teller.nested else ():
            inner_inputs = teller.nested[path.partition("[")[0]]
            for name, value in item.assumed.items():
                key, write = inner_inputs[name]
                assumed.append(f'"{path}.{key}{write(value)}')
        return ",".join(assumed)

    def _bands(self) -> str:
        edges = self.teller.edges
        return ",".join([_band(band, *edges[band.of]) for band in self.known["bands"].values() if band.wide])

    def worded(self, text: str) -> str:
        """A text about this pack, in the words for what it is: one that flies, or a battery that never does."""
        if not self.on_the_ground:
            return text
        return on_the_ground(text, (getattr(pack, "name", None) or "" for pack in self.known.get("packs") or ()))

    def _heeded(self) -> Iterator[Caution]:
        found: Iterator[Caution] = self.teller.cautions(self.answer, self.known)
        return (each._replace(text=self.worded(each.text)) for each in found) if self.on_the_ground else found

    def cautions_written(self) -> str:
        return cautions_said(tuple(self._heeded()))

    def envelope(self) -> dict[str, Any]:
        """The same, as JSON is read."""
        document: dict[str, Any] = loads(self.json())
        return document

    def sentence(self) -> str:
        """The answer in words."""
        return self.worded(self.teller.sentence(self.answer, self.known))

    def cautions(self) -> list[Caution]:
        """What to heed, gravest first."""
        return ranked(self._heeded())

    def gravest(self) -> list[Caution]:
        """The gravest caution that the question brought up, or else the gravest standing one."""
        return sorted(self.cautions(), key=lambda entry: entry.standing)[:1]

    def spoken(self) -> str:
        """The sentence, then the gravest caution."""
        gravest = self.gravest()
        return " ".join([self.sentence(), *(entry.text for entry in gravest)]) + "\n"

    def curve(self) -> Any:
        """The answer's curve or table, a dataclass of columns."""
        return self.teller.curve(self.answer, self.known)

    def csv(self) -> str:
        """The curve as comma separated text, each column headed by its name and unit."""
        return table(self.teller.calculator.columns, self.curve())

    def svg(self) -> str:
        """The answer's picture."""
        from ampstead.replying import pictures

        drawn = self.teller.picture(self.answer, self.known)
        drawn = replace(drawn, title=self.worded(drawn.title))
        calculator = self.teller.calculator
        of = subject(self.known, calculator.inputs)
        return pictures.svg(drawn, self.curve(), calculator.columns, self.sentence(), of)

    def png(self) -> bytes:
        """The same as a bitmap."""
        from ampstead.replying import pictures

        return pictures.png(self.svg())


def answered(calculator: Calculator, raw: Mapping[str, Any]) -> Answered:
    """The answer to a raw question; raises ``Refusal`` where there is none."""
    return teller(calculator).answered(raw)


def _band(band: Band, start: str, write: Writer) -> str:
    return f'{start}{write(band.low)},"high":{write(band.high)},"basis":{quoted(band.basis)}}}'


@lru_cache(maxsize=256)
def cautions_said(found: tuple[Caution, ...]) -> str:
    return ",".join([_caution(entry) for entry in ranked(found)])


def _caution(entry: Caution) -> str:
    standing = "true" if entry.standing else "false"
    return (
        f'{{"code":{quoted(entry.code)},"severity":{quoted(entry.severity)},"standing":{standing},'
        f'"text":{quoted(entry.text)}}}'
    )
