"""What the calculators' methods stand on: a transport, and the one way in which each of them asks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from inspect import signature
from types import TracebackType
from typing import Any, ClassVar, Literal, Self, overload

from ampstead_client.batch import Batch, given, questions_of, rows_of
from ampstead_client.beyond import Doubts, Kinds, Needed, Overview, doubts_of, needed_of, overview_of
from ampstead_client.envelope import Answer, AnswerT
from ampstead_client.errors import Unreadable
from ampstead_client.reading import read
from ampstead_client.table import Table, read_table
from ampstead_client.transport import Transport
from ampstead_client.wire import wire


class ClientBase:
    """Holds the transport; a context manager that closes it."""

    _pack_class: ClassVar[type]
    _kinds: ClassVar[Kinds]

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def close(self) -> None:
        """Lets go of connections; a session of your own stays open."""
        self._transport.close()

    def table(self, answer: Answer) -> Table:
        """The curve or table behind an answer, asked of the service anew: `client.table(client.sag(…))`.

        A calculator without one gives its results in a single row. Raises what a question may raise.
        """
        address = self._transport.address(f"{answer.calculator}.csv")
        return read_table(self._fetched(answer, "csv"), address=address)

    @overload
    def picture(self, answer: Answer, *, form: Literal["svg"] = "svg") -> str: ...
    @overload
    def picture(self, answer: Answer, *, form: Literal["png"]) -> bytes: ...
    def picture(self, answer: Answer, *, form: Literal["svg", "png"] = "svg") -> str | bytes:
        """The picture of an answer, asked of the service anew: text of SVG, or the bytes of a PNG.

        Raises `NotFound` for a calculator that has none, and what a question may raise.
        """
        if form not in ("svg", "png"):
            raise ValueError(f"form is {form!r}: a picture comes as 'svg' or as 'png'")
        body = self._fetched(answer, form)
        if form == "png":
            return body
        try:
            return body.decode("utf-8")
        except UnicodeDecodeError:
            address = self._transport.address(f"{answer.calculator}.svg")
            raise Unreadable("the picture is no text", method="POST", url=address) from None

    def _fetched(self, answer: Answer, form: str) -> bytes:
        return self._transport.fetch(answer.calculator, answer.raw["question"], form)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def __repr__(self) -> str:
        return f"<{type(self).__name__} of {self._transport!r}>"

    def _ask(
        self,
        calculator: str,
        result: type[AnswerT],
        question: Mapping[str, Any],
        *,
        pack: object = None,
        exclusive: Iterable[Iterable[str]] = (),
    ) -> AnswerT:
        """The answer to a question: its keys are all the inputs of the calculator, None if not given.

        `pack` fills in what is not given: it loses an input that the calculator does not take, and one of an
        `exclusive` set of which another is given.
        """
        inputs = {name: _wired(name, value) for name, value in question.items() if value is not None}
        if pack is not None:
            filled = self._facts(pack)
            given = set(inputs)
            taken = {name for names in exclusive if given & set(names) for name in names}
            inputs |= {name: value for name, value in filled.items() if name in question and name not in given | taken}
        document = self._transport.ask(calculator, inputs)
        return read(result, document, calculator=calculator, address=self._transport.address(calculator))

    def overview(self, *, pack: object = None, **facts: Any) -> Overview:
        """All that the calculators say of one pack: `client.overview(pack=trainer, typical_current="14 A")`.

        The facts are those of `/v1/overview` in the service's document: the inputs of a pack, and what is known of
        its charger, its flights and its day. `pack` fills in what is not given. No two of the answers disagree on
        charging, flying or retiring the pack.

        Raises what a question may raise; a misspelt fact is refused by the service.
        """
        document = self._transport.ask("overview", self._with_pack(pack, facts))
        return overview_of(document, self._kinds, self._transport.address("overview"))

    def needed(
        self, calculator: str, *, result: str, input: str, target: Any = None, pack: object = None, **question: Any
    ) -> Needed:
        """Which value of one input brings a result to where it is wanted.

        `client.needed("wattage", cells=3, capacity="2250 mAh", result="fits", input="available_power")`. `target` is
        what the result is to come to, if that is not true. `pack` fills in inputs of the calculator's that are not
        given; the others are those of its own method.

        Raises what a question may raise.
        """
        name = calculator.replace("_", "-")
        asked = {"result": result, "input": input, "target": target}
        where = f"{name}/needed"
        document = self._transport.ask(where, self._about(name, pack, question) | self._with_pack(None, asked))
        return needed_of(document, name, self._kinds, self._transport.address(where))

    def doubt(self, calculator: str, *, result: str | None = None, pack: object = None, **question: Any) -> Doubts:
        """What each assumed input makes of a result, the widest first: what to measure next.

        `client.doubt("sag", pack=trainer, current="23 A")`. `result` is the result in question, if not the main one;
        `pack` fills in inputs of the calculator's that are not given.

        Raises what a question may raise.
        """
        name = calculator.replace("_", "-")
        where = f"{name}/doubt"
        asked = self._about(name, pack, question) | self._with_pack(None, {"result": result})
        return doubts_of(self._transport.ask(where, asked), self._transport.address(where))

    def _about(self, calculator: str, pack: object, question: Mapping[str, Any]) -> dict[str, Any]:
        """A calculator's question, of the pack's inputs those that it takes."""
        filled = self._with_pack(pack, question)
        method = getattr(self, calculator.replace("-", "_"), None)
        taken = signature(method).parameters if method else filled
        return {name: value for name, value in filled.items() if name in taken or name in question}

    def _with_pack(self, pack: object, question: Mapping[str, Any]) -> dict[str, Any]:
        """What was given, and of the pack what that leaves open."""
        given = {name: _wired(name, value) for name, value in question.items() if value is not None}
        filled: dict[str, Any] = {}
        if pack is not None:
            filled = self._facts(pack)
            for names in _EXCLUSIVE_OF_A_PACK:
                if names & given.keys():
                    filled = {name: value for name, value in filled.items() if name not in names}
        return {**filled, **given}

    def _facts(self, pack: object) -> dict[str, Any]:
        """What a pack tells, as it is sent."""
        # A misspelt name in a mapping must not vanish among the inputs that a calculator does not take.
        told = _wired("pack", self._pack_class(**pack) if isinstance(pack, Mapping) else pack)
        if not isinstance(told, dict):
            raise TypeError(f'pack is {pack!r}: give a Pack, such as Pack(cells=3, capacity="2250 mAh")')
        return told

    def _row(self, calculator: str, question: Any) -> Any:
        """A question of many, with what its pack fills in."""
        if not isinstance(question, Mapping) or question.get("pack") is None:
            return question
        own = {name: value for name, value in question.items() if name != "pack" and given(value)}
        return self._about(calculator, question["pack"], own)

    def batch(self, calculator: str, questions: Any = None, *, columns: Any = None, common: Any = None) -> Batch:
        """Many questions to one calculator, by its name (`"wattage"`), in one request.

        `questions` is a list of mappings of inputs, or a frame with a row for each; `columns` is a mapping of lists,
        or a frame. A column may be headed `capacity [mAh]` if its numbers are bare. `common` holds the inputs that all
        share; a question's own win, and one of an exclusive set rules out the others. A question of the list, and
        `common`, may hold a `pack`, which fills in what is not given.

        A refused question loses no other: its row holds the problem. Raises `TooLarge` for more questions than the
        service takes, `ValueError` or `TypeError` for what is no table, and what a single question may raise.
        """
        if (questions is None) == (columns is None):
            raise TypeError("give either questions or columns")
        asked = questions_of(columns if questions is None else questions, lambda row: self._row(calculator, row))
        body: dict[str, Any] = {"questions": asked}
        if common is not None:
            body["common"] = _wired("common", self._row(calculator, common))
        where = f"{calculator.replace('_', '-')}/batch"
        document = self._transport.ask(where, body)
        return rows_of(document, len(asked), self._transport.address(where))


_EXCLUSIVE_OF_A_PACK = (
    {"state_of_charge", "rest_voltage", "cell_voltages"},
    {"cell_resistance", "pack_resistance"},
)


def _wired(name: str, value: Any) -> Any:
    try:
        return wire(value)
    except (TypeError, ValueError) as fault:
        fault.add_note(f"in the input {name!r}")
        raise
