"""One question, one answer: what a calculator says, and how each form of it is written.

Everything that its declaration settles (which inputs a sentence names, how each result is written, what stands in
every answer) is worked out once per calculator, in ``Teller``. No calculator is known here by name; one that cannot
answer a question raises ``Refusal``.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from inspect import signature
from itertools import groupby
from json import loads
from typing import Any

from ampstead.declare import Calculator, Caution
from ampstead.judging.cautions import ranked
from ampstead.reading.items import Item
from ampstead.reading.plan import Question, Shape, plan, taking
from ampstead.replying.on_the_ground import never_flown, on_the_ground
from ampstead.replying.subject import subject
from ampstead.replying.writers import member, quoted, table, writer


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
    if not names:
        return lambda answer, known: function(answer)
    take = taking(names)
    return lambda answer, known: function(answer, **take(known))


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
        self.inputs = {name: member(name, entry) for name, entry in calculator.inputs.items()}
        self.results = [(name, member(name, result)) for name, result in calculator.results.items()]
        self.edges = {
            name: (f'{{"of":{quoted(name)},"low":', writer(result)) for name, result in calculator.results.items()
        }
        self.nested = {
            name: {inner: writer(each, f'{inner}":') for inner, each in entry.item.inputs.items()}
            for name, entry in calculator.inputs.items()
            if entry.item
        }
        """How the inputs of nested items are written, after their path."""
        self.said = {
            name: [inner for inner, each in result.item.inputs.items() if getattr(each.spec, "said", False) is True]
            for name, result in calculator.results.items()
            if result.item
        }
        """Words of a calculator's own in lists of its results."""
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
        grounded = never_flown(known)
        if grounded:
            answer = self._reworded(answer)
            bands = (band._replace(basis=on_the_ground(band.basis)) for band in bands)
        known["bands"] = {band.of: band for band in bands}
        return Answered(self, question, answer, known, grounded)

    def _reworded(self, answer: Any) -> Any:
        """An answer whose own words are told of a battery that never flies."""
        told = {
            name: [
                replace(each, **{inner: on_the_ground(getattr(each, inner)) for inner in said})
                for each in getattr(answer, name)
            ]
            for name, said in self.said.items()
            if said
        }
        return replace(answer, **told) if told else answer

    def fixed(self, shape: Shape) -> Sequence[tuple[str, str]]:
        """The defaults that a set of names settles, as written, and between them the names of those that follow from
        other inputs; kept with what else follows from the set."""
        if shape.written is None:
            made: list[tuple[str, str]] = []
            for plain, names in groupby(shape.assumable, shape.plain.__contains__):
                if plain:
                    made.append((",".join([self.inputs[name](shape.plain[name]) for name in names]), ""))
                else:
                    made += [("", name) for name in names]
            shape.written = made
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

    def __init__(
        self, teller: Teller, question: Question, answer: Any, known: Mapping[str, Any], grounded: bool
    ) -> None:
        self.teller = teller
        self.question = question
        self.answer = answer
        self.known = known
        self.on_the_ground = grounded

    def json(self) -> str:
        """The whole answer as the contract writes it: the envelope."""
        return "".join(self._parts())

    def encoded(self) -> bytes:
        """The same as it is sent. Part by part, since most are ASCII, which is encoded at once."""
        return b"".join([part.encode() for part in self._parts()])

    def _parts(self) -> tuple[str, ...]:
        teller, question, answer = self.teller, self.question, self.answer
        inputs = teller.inputs
        given = [inputs[name](value) for name, value in question.given.items()]
        results = [write(getattr(answer, name)) for name, write in teller.results]
        return (
            f'{teller.head}{",".join(given)}}},"assumed":{{',
            self._assumed(),
            f'}},"answer":{{{",".join(results)}',
            f'}},"accuracy":[{self._bands()}],"sentence":{quoted(self.sentence())},"cautions":[',
            self.cautions_written(),
            teller.tail,
        )

    def brief(self) -> str:
        """What a batch says of it: the answer, what was assumed, how sure it is and what to heed."""
        results = [write(getattr(self.answer, name)) for name, write in self.teller.results]
        return (
            f'{{"answer":{{{",".join(results)}}},"assumed":{{{self._assumed()}}},"accuracy":[{self._bands()}],'
            f'"cautions":[{self.cautions_written()}]}}'
        )

    def _assumed(self) -> str:
        teller, question = self.teller, self.question
        inputs, values = teller.inputs, question.assumed
        assumed = [
            text or inputs[name](values[name]) for text, name in teller.fixed(question.shape) if text or name in values
        ]
        for path, item in teller.items(question) if teller.nested else ():
            inner_inputs = teller.nested[path.partition("[")[0]]
            for name, value in item.assumed.items():
                assumed.append(f'"{path}.{inner_inputs[name](value)}')
        return ",".join(assumed)

    def _bands(self) -> str:
        edges = self.teller.edges
        return ",".join(
            [
                f'{start}{write(band.low)},"high":{write(band.high)},"basis":{quoted(band.basis)}}}'
                for band in self.known["bands"].values()
                if band.wide
                for start, write in (edges[band.of],)
            ]
        )

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
        if self.on_the_ground:
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


@lru_cache(maxsize=256)
def cautions_said(found: tuple[Caution, ...]) -> str:
    return ",".join([_caution(entry) for entry in ranked(found)])


def _caution(entry: Caution) -> str:
    standing = "true" if entry.standing else "false"
    return (
        f'{{"code":{quoted(entry.code)},"severity":{quoted(entry.severity)},"standing":{standing},'
        f'"text":{quoted(entry.text)}}}'
    )
