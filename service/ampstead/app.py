"""The HTTP service: one loop over the calculators, one shape of error. Nothing happens at import."""

from collections.abc import Callable, Mapping
from functools import cache
from types import ModuleType
from typing import Any

from flask import Flask, Response, request
from flask.globals import request_ctx
from werkzeug.exceptions import HTTPException, MethodNotAllowed, RequestEntityTooLarge

from ampstead import docs, openapi
from ampstead.calculators import registry
from ampstead.counts import Counts
from ampstead.declare import Calculator, ItemType
from ampstead.errors import TITLES, Problem, Refusal, clipped, did_you_mean
from ampstead.front import routes, short_way, small_body
from ampstead.lean import Service, Whole, uncollected
from ampstead.pages import refused
from ampstead.pages.packs import LONGEST_LIST
from ampstead.pages.views import add_pages
from ampstead.replying import batch, forms, manners
from ampstead.replying.answers import service_version, teller
from ampstead.replying.forms import FORMS, Form, Reply, dumped, form_of

JSON = "application/json"
METHODS = ("GET", "HEAD", "POST", "OPTIONS")
BATCH = "/batch"
LONGEST_BODY = 64 * 1024
LONGER_BODIES = {"/packs": LONGEST_LIST}
"""Where a body may be longer, batches apart."""
LONGEST_ADDRESS = 16 * 1024
LONGEST_HEADERS = 32 * 1024


@uncollected()
def create_app(package: ModuleType | None = None) -> Flask:
    """The service as a WSGI application, over the calculators of a package (the project's own by default)."""
    app = Service("ampstead", static_folder=None)
    app.url_map.strict_slashes = app.url_map.merge_slashes = False
    app.config["MAX_CONTENT_LENGTH"] = LONGEST_BODY
    app.config["PROVIDE_AUTOMATIC_OPTIONS"] = False
    calculators = registry(package)

    documents: Mapping[str, Callable[[], Mapping[str, Any]]] = {
        "/v1/": lambda: openapi.index(calculators),
        "/openapi.json": lambda: openapi.document(calculators),
        "/version": lambda: {"version": service_version()},
        "/healthz": lambda: {"status": "ok"},
    }
    for path, document in documents.items():
        app.add_url_rule(path, endpoint=path, view_func=_fixed(document), methods=["GET"])
    app.add_url_rule("/readyz", endpoint="/readyz", view_func=_ready(calculators), methods=["GET"])
    app.add_url_rule("/metrics", endpoint="/metrics", view_func=lambda: _counted(app), methods=["GET"])
    add_pages(app, calculators)
    _with_reference(app, calculators)
    table = routes(calculators)
    for path, (calculator, form) in table.items():
        if isinstance(calculator, Calculator):
            teller(calculator)
        app.add_url_rule(path, endpoint=path, view_func=_view(calculator, form), methods=["GET", "POST"])

    for calculator in calculators.values():
        if not calculator.most:
            continue
        path = f"/v1/{calculator.name}{BATCH}"
        app.add_url_rule(path, endpoint=path, view_func=_batch_view(calculator), methods=["POST"])

    app.extensions["counts"] = Counts(sorted(rule.rule for rule in app.url_map.iter_rules()))
    app.before_request(_within_limits)
    app.register_error_handler(Problem, _refused)
    app.register_error_handler(Refusal, lambda refusal: _sent(forms.refused(refusal, form_of(request.path))))
    app.register_error_handler(HTTPException, lambda fault: _http_fault(fault, calculators))
    app.register_error_handler(Exception, _failed)
    app.after_request(_with_headers)
    app.extensions["full_way"] = app.wsgi_app
    app.wsgi_app = short_way(app.wsgi_app, table, LONGEST_BODY)  # type: ignore[assignment,method-assign]
    return app


def _with_reference(app: Flask, calculators: Mapping[str, Calculator]) -> None:
    """The page for developers and the files that it loads."""

    @cache
    def page() -> bytes:
        return docs.page(openapi.document(calculators), calculators).encode()

    def view(made: Callable[[], bytes], media: str) -> Callable[[], Response]:
        def sent() -> Response:
            headers = (*forms.headed_by(media), ("Content-Security-Policy", docs.POLICY))
            return _sent(_mannered(Reply(200, headers, made()), request.environ))

        return sent

    app.add_url_rule("/docs", endpoint="/docs", view_func=view(page, "text/html"), methods=["GET"])
    for name, media in docs.FILES.items():
        path = f"/docs/{name}"
        app.add_url_rule(path, endpoint=path, view_func=view(docs.part(name).encode, media), methods=["GET"])


def _fixed(document: Callable[[], Mapping[str, Any]]) -> Callable[[], Response]:
    """A document that never changes; made when it is first asked for, since some take as long as all of a start."""

    # Encoded once: a reply that nobody reads then takes no memory of its own.
    @cache
    def body() -> tuple[bytes, bytes, str]:
        plain = dumped(document()).encode()
        return plain, manners.gzipped(plain, manners.WELL), manners.tag(plain)

    def view() -> Response:
        if not forms.accepted(request.headers.get("Accept", ""), JSON):
            raise Problem(406, f"This address answers in {JSON} only.")
        plain, small, tagged = body()
        headers = {"ETag": tagged}
        if manners.known(tagged, request.headers.get("If-None-Match", "")):
            return Response(status=304, headers=headers)
        if manners.shrinks(JSON, len(plain)) and manners.takes_gzip(request.headers.get("Accept-Encoding", "")):
            return Response(small, headers=headers | {"Content-Encoding": "gzip"}, mimetype=JSON)
        return Response(plain, headers=headers, mimetype=JSON)

    return view


KNOWN_QUESTION = {"cells": "3", "capacity": "2250 mAh", "rate": "1C"}
KNOWN_ANSWER = 24.975
"""Watts that this charge takes at three times 3.7 volts: 2.25 A × 11.1 V."""


def _ready(calculators: Mapping[str, Calculator]) -> Callable[[], Response]:
    """Whether questions are answered right, told by one whose answer is known beforehand."""

    def view() -> Response:
        if not forms.accepted(request.headers.get("Accept", ""), JSON):
            raise Problem(406, f"This address answers in {JSON} only.")
        if wattage := calculators.get("wattage"):
            try:
                power = teller(wattage).answered(KNOWN_QUESTION).envelope()["answer"]["nominal_power"]["value"]
            except Exception as fault:
                forms.log.error("the known question failed", exc_info=fault)
                power = None
            if power is None or abs(power - KNOWN_ANSWER) > 1e-9 * KNOWN_ANSWER:
                raise Problem(503, "A question whose answer is known was answered wrongly.", {"Retry-After": "1"})
        return Response(dumped({"status": "ready"}), mimetype=JSON)

    return view


def _counted(app: Flask) -> Response:
    """The counts of all workers; a caller who names a form of them that is not known gets the plain one."""
    written, media = app.extensions["counts"].told(request.headers.get("Accept", ""), service_version())
    return Response(written, content_type=media)


def _view(calculator: Calculator | ItemType, form: Form) -> Callable[[], Response]:
    def view() -> Response:
        asked = request_ctx.request
        environ, method, query = asked.environ, asked.method, asked.query_string.decode(errors="replace")
        body = kind = None
        if method == "POST":
            body, kind = small_body(environ, LONGEST_BODY), environ.get("CONTENT_TYPE")
            body = asked.get_data() if body is None else body
        made = forms.reply(calculator, form, method, query, body or b"", kind or "", environ.get("HTTP_ACCEPT", ""))
        return _sent(_mannered(made, environ))

    return view


def _mannered(made: Reply, environ: Mapping[str, str]) -> Reply:
    had, encodings = environ.get("HTTP_IF_NONE_MATCH", ""), environ.get("HTTP_ACCEPT_ENCODING", "")
    return forms.mannered(made, environ["REQUEST_METHOD"], had, encodings)


def _batch_view(calculator: Calculator) -> Callable[[], Response]:
    def view() -> Response:
        request.max_content_length = batch.LONGEST_BATCH
        query, accept = request.query_string.decode(errors="replace"), request.headers.get("Accept", "")
        made = batch.batch(calculator, query, request.get_data(), request.content_type or "", accept)
        return _sent(_mannered(made, request.environ))

    return view


def _sent(made: Reply) -> Response:
    return Whole(made)


def _within_limits() -> None:
    asked = request_ctx.request
    environ = asked.environ
    if len(environ.get("RAW_URI") or asked.full_path) > LONGEST_ADDRESS:
        raise Problem(414, f"The address is longer than {LONGEST_ADDRESS} characters: ask by POST.")
    if sum([len(name) - 5 + len(environ[name]) for name in environ if name[:5] == "HTTP_"]) > LONGEST_HEADERS:
        raise Problem(431, f"The headers are longer than {LONGEST_HEADERS} characters.")
    if environ.get("HTTP_CONTENT_ENCODING", "").strip().lower() not in ("", "identity"):
        raise Problem(415, 'The question must come unpacked: send it without the header "Content-Encoding".')


def _refused(fault: Problem) -> Response:
    return _sent(refused.reply(fault, request.path, request.headers.get("Accept", ""), request.script_root))


def _failed(fault: Exception) -> Response:
    made = forms.failed(fault, form_of(request.path))
    if refused.read_by_a_person(request.path, request.headers.get("Accept", "")):
        return _refused(Problem(500, forms.FAULT))
    return _sent(made)


def _http_fault(fault: HTTPException, calculators: Mapping[str, Calculator]) -> Response:
    status, headers = fault.code or 500, {}
    if isinstance(fault, MethodNotAllowed):
        offered = [method for method in METHODS if method == "OPTIONS" or method in (fault.valid_methods or ())]
        headers = {"Allow": ", ".join(offered)}
        if request.method == "OPTIONS":
            return Response(status=204, headers=headers | manners.preflight(headers["Allow"]))
        detail = f"{clipped(request.method)} is not offered here; use {' or '.join(offered[:-1])}."
    elif status == 404:
        detail = f"There is nothing at {clipped(request.path, 80)}{_hint(request.path, calculators)}"
    elif isinstance(fault, RequestEntityTooLarge):
        longest = LONGER_BODIES.get(request.path, LONGEST_BODY)
        longest = batch.LONGEST_BATCH if request.path.endswith(BATCH) else longest
        detail = f"The body is larger than {longest // 1024} kilobytes."
    else:
        status = status if status in TITLES else 400 if status < 500 else 500
        detail = TITLES[status][1] + "."
    return _refused(Problem(status, detail, headers))


def _hint(path: str, calculators: Mapping[str, Calculator]) -> str:
    """What was meant, where an address's last part is nearly a calculator's name."""
    front, _, last = path.removesuffix(BATCH).rpartition("/")
    name, dot, suffix = last.partition(".")
    if name in calculators and dot and front == "/v1":
        return f": {name} does not come in the form {clipped(dot + suffix, 12)}."
    hint = did_you_mean(name, calculators)
    tail = BATCH if path.endswith(BATCH) else dot + suffix if dot + suffix in FORMS else ""
    if hint and (front != "/v1" or tail == BATCH):
        meant = hint.removeprefix("; did you mean ").removesuffix("?")
        hint = f"; did you mean /v1/{meant}{tail}?"
        if meant == name and front == "/v1":
            hint = f": {meant} takes one question at a time."
    return hint or "; /v1/ lists what there is."


def _with_headers(response: Response) -> Response:
    if isinstance(response, Whole):
        return response
    if response.status_code in (204, 304):
        response.headers.pop("Content-Type", None)
    for name, value in (("X-Content-Type-Options", "nosniff"), *manners.of_every_reply()):
        response.headers.setdefault(name, value)
    response.headers.setdefault("Cache-Control", "no-store" if response.status_code >= 400 else "no-cache")
    return response
