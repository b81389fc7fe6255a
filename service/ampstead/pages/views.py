"""The addresses of the pages: the start, one page a calculator, its QR code, and what they look like.

Everything here waits until the first page is asked for: neither the start of the service nor an answer in JSON loads
a template.
"""

import os
from collections.abc import Callable, Mapping
from functools import lru_cache
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any

from flask import Flask, Response, request

from ampstead.declare import MOMENTS, Calculator, Count, Flag, Moment, Quantity
from ampstead.errors import FieldError, Problem, Refusal, capitalised, spoken
from ampstead.pages import typed
from ampstead.reading.plan import plan
from ampstead.reading.raw import from_query

ASSETS = Path(__file__).parent / "assets"
KINDS = {
    "page.css": "text/css",
    "card.css": "text/css",
    "card-a4.css": "text/css",
    "page.js": "text/javascript",
    "icon.svg": "image/svg+xml",
}
POLICY = (
    "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; connect-src 'self'; worker-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
FRAGMENT = "X-Page-Part"
"""The header by which the page's own script asks: then a refusal is no fault, since a person is still typing."""
CALM = {"missing"}
MOST_OTHERS = 10
YEAR = 31_536_000


def add_pages(app: Flask, calculators: Mapping[str, Calculator]) -> None:
    """The pages' addresses; nothing is loaded yet."""

    def at(path: str, view: Callable[[], Response]) -> None:
        app.add_url_rule(path, endpoint=f"page {path}", view_func=view, methods=["GET"])

    at("/", lambda: _html("start.html", moments=_moments(calculators)))
    for name in KINDS:
        at(f"/static/{name}", lambda name=name: _asset(name))  # type: ignore[misc]
    at("/sw.js", _keeper)
    at("/card", lambda: _card(calculators))
    at("/card.qr.svg", lambda: _code("card", typed.address(from_query(request.query_string.decode(errors="replace")))))
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
    from ampstead.replying.answers import teller

    query = request.query_string.decode(errors="replace")
    errors: tuple[FieldError, ...] = ()
    answered = None
    try:
        pairs = from_query(query)
    except Refusal as refusal:
        pairs, errors = {}, refusal.errors
    if typed.by_form(pairs):
        asked = typed.address(typed.question(pairs, calculator.inputs))
        whole = f"{request.script_root}/{calculator.name}?{asked}".removesuffix("?")
        return Response(status=303, headers={"Location": whole, "Cache-Control": "no-cache"})
    if pairs:
        try:
            answered = teller(calculator).answered(pairs)
        except Refusal as refusal:
            errors = refusal.errors
    told = typed.opened(pairs, calculator.inputs)
    calm = all(error.code in CALM for error in errors)
    shown = fields.form(calculator, calculator.examples[0], told, errors, figures.taken(answered) if answered else {})
    everything = list(fields.fields_of((*shown.first, *shown.more, *shown.aside)))
    boxes = {field.name: field.errors[0] for field in everything if field.errors}
    address = typed.address(pairs)
    return _html(
        "calculator.html",
        status=200 if calm or request.headers.get(FRAGMENT) else 422,
        calculator=calculator,
        form=shown,
        errors=[
            (error.field if error.field in boxes else "", boxes.get(error.field) or _sentence(error))
            for error in _once(errors)
        ],
        calm=calm,
        asked=bool(pairs),
        answer=_answer(answered) if answered else None,
        query=address,
        base=_base(),
        example=_example(calculator),
        others=_others(calculator, calculators, _with_chemistry(pairs, answered)) if answered else [],
        python=_python(calculator, pairs),
        marked=lambda parts: any(each.told or each.errors for each in fields.fields_of(parts)),
    )


@lru_cache(maxsize=64)
def _example(calculator: Calculator) -> str:
    """The first example as the query of an address."""
    return typed.address(typed.flattened(calculator.examples[0]))


def _answer(answered: Any) -> dict[str, Any]:
    from ampstead import words
    from ampstead.pages import figures

    cautions, said = answered.cautions(), answered.sentence()
    first = next((caution for caution in cautions if not caution.standing), None)
    return {
        "sentence": words.written(said),
        "first": first,
        "cautions": [caution for caution in cautions if caution is not first],
        "figures": figures.figures(answered),
        "tables": list(figures.tables(answered)),
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


def _others(
    calculator: Calculator, calculators: Mapping[str, Calculator], pairs: Mapping[str, str]
) -> list[tuple[Calculator, str]]:
    """Other calculators that can be asked about the same pack, each with the pack's facts."""
    facts = {
        name: typed.address({name: value})
        for name, value in pairs.items()
        if (entry := calculator.inputs.get(name)) and entry.group
    }
    chemistry = pairs["chemistry"] if "chemistry" in facts else "lipo"
    found = _asked_on(calculator, tuple(calculators.values()), tuple(facts), chemistry)
    return [(other, "&".join([facts[name] for name in shared])) for other, shared in found]


@lru_cache(maxsize=512)
def _asked_on(
    calculator: Calculator, calculators: tuple[Calculator, ...], facts: tuple[str, ...], chemistry: str
) -> list[tuple[Calculator, list[str]]]:
    """Other calculators that take some of these facts, and which; those that lack least come first."""
    found = []
    for other in calculators:
        taken, needed = _facts_of(other)
        shared = [name for name in facts if name in taken]
        if other is calculator or shared in ([], ["chemistry"]) or _refused(other, chemistry):
            continue
        lacking = len(needed.difference(shared))
        found.append((lacking, MOMENTS.index(other.when.moment), other.when.place, other.name, other, shared))
    found.sort(key=lambda each: each[:4])
    return [(other, shared) for *_, other, shared in found[:MOST_OTHERS]]


@lru_cache(maxsize=64)
def _facts_of(other: Calculator) -> tuple[frozenset[str], frozenset[str]]:
    """The facts of a pack that a calculator takes, and all that it must be told."""
    inputs = other.inputs.items()
    return (
        frozenset(name for name, entry in inputs if entry.group),
        frozenset(name for name, entry in inputs if entry.required),
    )


def _with_chemistry(pairs: Mapping[str, str], answered: Any) -> Mapping[str, str]:
    """The facts with the chemistry that was taken, which another calculator may take otherwise."""
    pack = answered.known.get("pack")
    return {"chemistry": pack.chemistry, **pairs} if pack is not None and pack.chemistry else pairs


@lru_cache(maxsize=512)
def _refused(other: Calculator, chemistry: str) -> bool:
    """Whether another calculator takes no pack of this chemistry; what is only missing can be told."""
    try:
        plan(other).read({"chemistry": chemistry} if "chemistry" in other.inputs else {})
    except Refusal as refusal:
        return any(error.code not in CALM for error in refusal.errors)
    return False


def _python(calculator: Calculator, pairs: Mapping[str, str]) -> str:
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
    return f'AmpsteadClient("{_base()}").{calculator.name.replace("-", "_")}({told})'


def _card(calculators: Mapping[str, Calculator]) -> Response:
    """The field cards of some packs."""
    from ampstead.pages import cards

    errors: list[str] = []
    made = []
    name, reserve, paper = "", cards.RESERVE, ""
    try:
        packs, name, reserve, paper = cards.packs_of(from_query(request.query_string.decode(errors="replace")))
        for place, pack in enumerate(packs, 1):
            told = {"name": name, "reserve": reserve, **{f"packs[0].{key}": value for key, value in pack.items()}}
            query = typed.address({key: value for key, value in told.items() if value})
            made.append(cards.card(calculators, pack, reserve, place, query))
    except Refusal as refusal:
        made, errors = [], [_sentence(error) for error in _once(refusal.errors)]
    return _html(
        "card.html",
        status=422 if errors else 200,
        name=name,
        reserve=reserve,
        a4=paper.lower() == "a4",
        cards=made,
        sheets=cards.sheets(made, paper),
        errors=errors,
        today=cards.today(),
    )


def _qr(calculator: Calculator) -> Response:
    """A code that leads a camera to the answer's page."""
    pairs = from_query(request.query_string.decode(errors="replace"))
    return _code(calculator.name, typed.address(typed.question(pairs, calculator.inputs)))


def _code(page: str, told: str) -> Response:
    import segno

    whole = f"{_base()}/{page}"
    try:
        code = segno.make(f"{whole}?{told}" if told else whole, micro=False, error="m", boost_error=False)
    except segno.DataOverflowError:
        raise Problem(414, "The question is too long for a code that a camera can read.") from None
    made = BytesIO()
    code.save(made, kind="svg", scale=4, border=4, dark="#000000", light="#ffffff", xmldecl=False, title="QR code")
    return Response(made.getvalue(), content_type="image/svg+xml; charset=utf-8")


def _base() -> str:
    """Where this service is, as others reach it."""
    return (os.environ.get("AMPSTEAD_PUBLIC_URL", "").strip() or request.url_root).rstrip("/")


def _html(template: str, status: int = 200, **told: Any) -> Response:
    from ampstead.pages import written
    from ampstead.replying.answers import service_version

    return Response(
        written.page(template, root=request.script_root, stamp=_stamp(), version=service_version(), **told),
        status,
        {"Content-Security-Policy": POLICY, "Referrer-Policy": "no-referrer", "Cache-Control": "no-cache"},
        content_type="text/html; charset=utf-8",
    )


@lru_cache(maxsize=8)
def asset(name: str) -> bytes:
    """A file that pages need; the style begins with the table of colours."""
    if name == "card-a4.css":
        return (
            asset("card.css")
            .replace(b"size:105mm 148mm", b"size:210mm 297mm")
            .replace(b"min-height:147mm", b"min-height:148mm")
        )
    written = (ASSETS / name).read_bytes()
    if name != "page.css":
        return written
    from ampstead.replying.colours import PAGE_DARK, PAGE_LIGHT

    def table(colours: Mapping[str, str]) -> str:
        return ":root{" + "".join(f"--{name}:{colour};" for name, colour in colours.items()) + "}"

    dark = f"@media (prefers-color-scheme:dark){{{table(PAGE_DARK)}}}"
    return f"{table(PAGE_LIGHT)}@media screen{{{dark}}}\n".encode() + written


@lru_cache(maxsize=1)
def _stamp() -> str:
    """What changes with the looks, so that nobody sees old ones."""
    return sha256(b"".join(asset(name) for name in KINDS)).hexdigest()[:10]


def _asset(name: str) -> Response:
    kept = f"public, max-age={YEAR}, immutable" if request.args.get("v") == _stamp() else "no-cache"
    return Response(asset(name), content_type=f"{KINDS[name]}; charset=utf-8", headers={"Cache-Control": kept})


def _keeper() -> Response:
    """The script that keeps what was visited; at the root, since it keeps nothing outside the folder it stands in."""
    headers = {"Cache-Control": "no-cache", "Content-Security-Policy": POLICY}
    return Response(asset("sw.js"), content_type="text/javascript; charset=utf-8", headers=headers)
