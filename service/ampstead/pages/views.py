"""The addresses of the pages: the start, one page a calculator, its QR code, and what they look like.

Everything here waits until the first page is asked for: neither the start of the service nor an answer in JSON loads
a template.
"""

from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any

from flask import Flask, Response, request

from ampstead.declare import MOMENTS, Calculator, Count, Flag, Moment, Quantity
from ampstead.errors import FieldError, Refusal, capitalised, spoken
from ampstead.pages import refused, sent, typed
from ampstead.reading.raw import from_query

CALM = {"missing"}
MOST_OTHERS = 10
FORMS = {"json": "/v1/{}", "txt": "/v1/{}.txt", "csv": "/v1/{}.csv", "png": "/v1/{}.png", "qr.svg": "/{}.qr.svg"}
AS = ":as"
"""The name of a form's buttons that lead to another form of its answer: for long questions they are the shorter way."""
ASKED_OF_A_LIST = {"pack-fitness", "load-test", "flight-timer"}


def add_pages(app: Flask, calculators: Mapping[str, Calculator]) -> None:
    """The pages' addresses; nothing is loaded yet."""

    def at(path: str, view: Callable[[], Response]) -> None:
        app.add_url_rule(path, endpoint=f"page {path}", view_func=view, methods=["GET"])

    at("/", lambda: sent.html("start.html", moments=_moments(calculators), packs=calculators.keys() >= ASKED_OF_A_LIST))
    for name in sent.KINDS:
        at(f"/static/{name}", lambda name=name: sent.file(name))  # type: ignore[misc]
    at("/sw.js", sent.keeper)
    if calculators.keys() >= ASKED_OF_A_LIST:
        app.add_url_rule("/packs", "page /packs", lambda: _packs(calculators), methods=["GET", "POST"])
    at("/card", lambda: _card(calculators))
    at("/card.qr.svg", lambda: _code("card", lambda told: told))
    for calculator in calculators.values():
        at(f"/{calculator.name}", lambda calculator=calculator: _page(calculator, calculators))  # type: ignore[misc]
        at(f"/{calculator.name}.qr.svg", lambda calculator=calculator: _qr(calculator))  # type: ignore[misc]


def _moments(calculators: Mapping[str, Calculator]) -> list[tuple[Moment, list[Calculator]]]:
    """The calculators by the moment at which a flier asks, in their order there."""
    found = []
    for moment in MOMENTS:
        asked = [each for each in calculators.values() if each.when.moment == moment]
        found.append((moment, sorted(asked, key=lambda each: (each.when.place, each.name))))
    return found


def _page(calculator: Calculator, calculators: Mapping[str, Calculator]) -> Response:
    from ampstead.pages import fields, figures
    from ampstead.pages.form import form
    from ampstead.replying.answers import teller

    query = request.query_string.decode(errors="replace")
    errors: tuple[FieldError, ...] = ()
    answered = None
    try:
        pairs = from_query(query)
    except Refusal as refusal:
        pairs, errors = {}, refusal.errors
    if typed.by_form(pairs):
        suffix = pairs.pop(AS, "")
        plain = typed.question(pairs, calculator.inputs)
        if suffix in FORMS and _answers(calculator, plain):
            return _to(FORMS[suffix].format(calculator.name), typed.address(plain))
        return _to(f"/{calculator.name}", typed.address(plain))
    if pairs:
        try:
            answered = teller(calculator).answered(pairs)
        except Refusal as refusal:
            errors = refusal.errors
    told = typed.opened(pairs, calculator.inputs)
    calm = all(error.code in CALM for error in errors)
    taken = figures.taken(answered) if answered else figures.usual(calculator, told)
    shown = form(calculator, calculator.examples[0], told, errors, taken)
    shape = shown.shape
    everything = fields.fields_of((*shape.first, *shape.more, *shape.aside)) if errors else ()
    boxes = {field.name: field.errors[0] for field in everything if field.errors}
    address, base = typed.address(pairs), sent.base()
    return sent.html(
        "calculator.html",
        status=200 if calm or request.headers.get(sent.FRAGMENT) else 422,
        calculator=calculator,
        here=f"{request.script_root}/{calculator.name}",
        api=f"{request.script_root}/v1/{calculator.name}",
        form=shown,
        errors=[
            (error.field if error.field in boxes else "", boxes.get(error.field) or _sentence(error))
            for error in _once(errors)
        ],
        calm=calm,
        asked=bool(pairs),
        answer=_answer(calculator, answered) if answered else None,
        query=address,
        base=base,
        example=_example(calculator),
        others=_others(calculator, calculators, _with_chemistry(pairs, answered)) if answered else "",
        python=_python(calculator, pairs, base),
    )


def _answers(calculator: Calculator, told: Mapping[str, str]) -> bool:
    """Whether a question has an answer: another form of it would tell what is wrong to programs alone."""
    from ampstead.replying.answers import teller

    try:
        teller(calculator).answered(told)
    except Refusal:
        return False
    return True


@lru_cache(maxsize=64)
def _example(calculator: Calculator) -> str:
    """The first example as the query of an address."""
    return typed.address(typed.flattened(calculator.examples[0]))


def _answer(calculator: Calculator, answered: Any) -> dict[str, Any]:
    from ampstead import words
    from ampstead.pages import figures, repeated

    cautions, said, shown = answered.cautions(), answered.sentence(), figures.figures(answered)
    first = next((caution for caution in cautions if not caution.standing), None)
    return {
        "sentence": repeated.sentence(words.written(said)),
        "first": first,
        "cautions": repeated.cautions(caution for caution in cautions if caution is not first),
        "main": repeated.figures(each for each in shown if each.main),
        "further": repeated.figures(each for each in shown if not each.main),
        "tables": repeated.tables(figures.tables(answered)),
        "sources": repeated.sources(calculator, shown),
        "spoken": said,
    }


def _once(errors: tuple[FieldError, ...]) -> list[FieldError]:
    """Each thing that is wrong once: a conflict has an entry per field."""
    found: dict[str, FieldError] = {}
    for error in errors:
        found.setdefault(error.message, error)
    return list(found.values())


def _sentence(error: FieldError) -> str:
    said = capitalised(spoken(error.message))
    return said if said.endswith("?") else f"{said}."


def _others(calculator: Calculator, calculators: Mapping[str, Calculator], pairs: Mapping[str, str]) -> str:
    """Links to other calculators that can be asked about the same pack, with the pack's facts."""
    from ampstead.pages import repeated
    from ampstead.pages.asking_on import others

    groups = {name for name, entry in calculator.inputs.items() if entry.group}
    facts = {name: value for name, value in pairs.items() if name in groups}
    before = f"{request.script_root}/"
    found = others(calculator, calculators, facts, MOST_OTHERS)
    return repeated.links((f"{before}{other.name}?{told}", other.asked) for other, told in found)


def _with_chemistry(pairs: Mapping[str, str], answered: Any) -> Mapping[str, str]:
    """The facts with the chemistry that was taken, which another calculator may take otherwise."""
    pack = answered.known.get("pack")
    return {"chemistry": pack.chemistry, **pairs} if pack is not None and pack.chemistry else pairs


def _python(calculator: Calculator, pairs: Mapping[str, str], base: str) -> str:
    """The question as one asks it of the client."""
    if any("[" in name or "." in name for name in pairs):
        return ""

    def written(name: str, value: str) -> str:
        spec = calculator.inputs[name].spec if name in calculator.inputs else None
        plain = isinstance(spec, Count) and value.isdecimal() and value.isascii()
        if isinstance(spec, Flag):
            return value.strip().capitalize()
        return value if plain and not isinstance(spec, Quantity) else repr(value).replace("'", '"')

    told = ", ".join(f"{name}={written(name, value)}" for name, value in pairs.items() if name in calculator.inputs)
    return f'AmpsteadClient("{base}").{calculator.name.replace("-", "_")}({told})'


def _packs(calculators: Mapping[str, Calculator]) -> Response:
    """What a whole list of packs says."""
    from ampstead.pages.packs import answering

    return answering.page(calculators)


def _card(calculators: Mapping[str, Calculator]) -> Response:
    """The field cards of some packs."""
    from ampstead.pages import cards

    errors: list[str] = []
    made: list[cards.Card] = []
    name, reserve, paper = "", cards.RESERVE, ""
    try:
        packs, name, reserve, paper = cards.packs_of(_asked())
        for place, pack in enumerate(packs, 1):
            told = {"name": name, "reserve": reserve, **{f"packs[0].{key}": value for key, value in pack.items()}}
            query = typed.address({key: value for key, value in told.items() if value})
            try:
                made.append(cards.card(calculators, pack, reserve, place, query))
            except Refusal as refusal:
                wrong = tuple(_sentence(error) for error in _once(refusal.errors))
                made.append(cards.Card(cards.called(pack, place), "", query, wrong=wrong))
    except Refusal as refusal:
        made, errors = [], [_sentence(error) for error in _once(refusal.errors)]
    return sent.html(
        "card.html",
        status=422 if errors or any(card.wrong for card in made) else 200,
        name=name,
        reserve=reserve,
        a4=paper.lower() == "a4",
        cards=made,
        sheets=cards.sheets(made, paper),
        errors=errors,
        today=cards.today(),
    )


def _asked() -> dict[str, str]:
    """The question as its address has it."""
    return from_query(request.query_string.decode(errors="replace"))


def _qr(calculator: Calculator) -> Response:
    """A code that leads a camera to the answer's page."""
    return _code(calculator.name, lambda told: typed.question(told, calculator.inputs))


def _code(page: str, plain: Callable[[dict[str, str]], dict[str, str]]) -> Response:
    """A code that leads a camera to a page; a person whose question has none is led to where it says why."""
    try:
        told = plain(_asked())
    except Refusal:
        if not refused.read_by_a_person(request.path, request.headers.get("Accept", "")):
            raise
        return _to(f"/{page}", request.query_string.decode("latin-1"))
    return sent.code(page, typed.address(told))


def _to(place: str, query: str) -> Response:
    whole = f"{request.script_root}{place}?{query}".removesuffix("?")
    return Response(status=303, headers={"Location": whole, "Cache-Control": "no-cache"})
