"""The HTTP service: one loop over the calculators, one shape of error. Nothing happens at import."""

import json
import logging
import re
from collections.abc import Callable, Mapping
from types import ModuleType
from typing import Any

from flask import Flask, Response, redirect, request
from werkzeug.exceptions import HTTPException, MethodNotAllowed, RequestEntityTooLarge

from ampstead import openapi
from ampstead.calculators import registry
from ampstead.declare import Calculator
from ampstead.errors import (
    TITLES,
    Problem,
    Refusal,
    clipped,
    did_you_mean,
    problem_document,
    refusal_document,
    spoken_refusal,
)
from ampstead.reading.wire import from_body, from_query
from ampstead.replying.answers import Answered, answered, service_version, spoken

METHODS = ("GET", "HEAD", "POST", "OPTIONS")
JSON, PROBLEM, TEXT = "application/json", "application/problem+json", "text/plain"
LONGEST_BODY = 64 * 1024
LONGEST_ADDRESS = 16 * 1024
LONGEST_HEADERS = 32 * 1024

log = logging.getLogger("ampstead")


def create_app(package: ModuleType | None = None) -> Flask:
    """The service as a WSGI application, over the calculators of a package (the project's own by default)."""
    app = Flask("ampstead", static_folder=None)
    app.config["PROVIDE_AUTOMATIC_OPTIONS"] = False
    app.url_map.strict_slashes = app.url_map.merge_slashes = False
    app.config["MAX_CONTENT_LENGTH"] = LONGEST_BODY
    calculators = registry(package)

    # Made here and not when first asked for: it answers the first example of each calculator, and fails at once
    # where that cannot be answered.
    spec = openapi.document(calculators)

    def fixed(document: Mapping[str, Any]) -> Callable[[], Response]:
        body = dumped(document)
        return lambda: Response(_wanted(body, JSON), mimetype=JSON)

    for path, document in (
        ("/v1/", openapi.index(calculators)),
        ("/openapi.json", spec),
        ("/version", {"version": service_version()}),
        ("/healthz", {"status": "ok"}),
    ):
        app.add_url_rule(path, endpoint=path, view_func=fixed(document), methods=["GET"])
    app.add_url_rule("/", endpoint="/", view_func=lambda: redirect("/v1/"), methods=["GET"])
    for calculator in calculators.values():
        for suffix in ("", ".txt", *calculator.forms):
            path = f"/v1/{calculator.name}{suffix}"
            view = _view(calculator, suffix)
            app.add_url_rule(path, endpoint=path, view_func=view, methods=["GET", "POST"])

    app.before_request(_within_limits)
    app.register_error_handler(Refusal, _refused)
    app.register_error_handler(Problem, lambda fault: _problem(fault.status, fault.detail, fault.headers))
    app.register_error_handler(HTTPException, lambda fault: _http_fault(fault, calculators))
    app.register_error_handler(Exception, _failed)
    app.after_request(_with_headers)
    app.wsgi_app = _tidied(app.wsgi_app)  # type: ignore[method-assign,assignment]  # as Flask means it to be wrapped
    return app


def _tidied(inner: Callable[[dict[str, Any], Any], Any]) -> Callable[[dict[str, Any], Any], Any]:
    """Addresses with doubled slashes, or with one at the end, mean those without."""

    def tidied(environ: dict[str, Any], start: Any) -> Any:
        path = environ.get("PATH_INFO", "")
        if "//" in path or path[-1:] == "/":
            path = re.sub("/+", "/", path).removesuffix("/")
            environ["PATH_INFO"] = "/v1/" if path == "/v1" else path or "/"
        elif path == "/v1":
            environ["PATH_INFO"] = "/v1/"
        return inner(environ, start)

    return tidied


def _view(calculator: Calculator, suffix: str) -> Callable[[], Response]:
    form, reply = FORMS[suffix]

    def view() -> Response:
        _wanted("", form)
        query = request.query_string.decode(errors="replace")
        if request.method == "POST":
            raw = from_body(request.get_data(), request.content_type or "", query)
        else:
            raw = from_query(query)
        return Response(reply(answered(calculator, raw)), mimetype=form)

    return view


def dumped(document: Mapping[str, Any]) -> str:
    """A document as JSON text, with finite numbers only."""
    return json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


FORMS: Mapping[str, tuple[str, Callable[[Answered], str | bytes]]] = {
    "": (JSON, lambda reply: dumped(reply.envelope())),
    ".txt": (TEXT, lambda reply: spoken(reply.envelope()) + "\n"),
    ".csv": ("text/csv", Answered.csv),
    ".svg": ("image/svg+xml", Answered.svg),
    ".png": ("image/png", Answered.png),
}


def _wanted(body: str, form: str) -> str:
    """The body, where the caller accepts its form."""
    if request.accept_mimetypes and not request.accept_mimetypes[form]:
        raise Problem(406, f"This address answers in {form} only.")
    return body


def _within_limits() -> None:
    if len(request.environ.get("RAW_URI", "") or request.full_path) > LONGEST_ADDRESS:
        raise Problem(414, f"The address is longer than {LONGEST_ADDRESS} characters: ask by POST.")
    if sum(len(name) + len(value) for name, value in request.headers) > LONGEST_HEADERS:
        raise Problem(431, f"The headers are longer than {LONGEST_HEADERS} characters.")


def _problem(status: int, detail: str, headers: Mapping[str, str] | None = None) -> Response:
    if request.path.endswith(".txt"):
        return Response(detail + "\n", status, headers, mimetype=TEXT)
    return Response(dumped(problem_document(status, detail)), status, headers, mimetype=PROBLEM)


def _refused(refusal: Refusal) -> Response:
    if request.path.endswith(".txt"):
        return Response(spoken_refusal(refusal) + "\n", 422, mimetype=TEXT)
    return Response(dumped(refusal_document(refusal)), 422, mimetype=PROBLEM)


def _http_fault(fault: HTTPException, calculators: Mapping[str, Calculator]) -> Response:
    status = fault.code or 500
    if isinstance(fault, MethodNotAllowed):
        offered = [method for method in METHODS if method == "OPTIONS" or method in (fault.valid_methods or ())]
        headers = {"Allow": ", ".join(offered)}
        if request.method == "OPTIONS":
            return Response(status=204, headers=headers)
        said = f"{clipped(request.method)} is not offered here; use {' or '.join(offered[:-1])}."
        return _problem(405, said, headers)
    if status == 404:
        return _problem(404, f"There is nothing at {clipped(request.path, 80)}{_hint(request.path, calculators)}")
    if isinstance(fault, RequestEntityTooLarge):
        return _problem(413, f"The body is larger than {LONGEST_BODY // 1024} kilobytes.")
    if status not in TITLES:
        status = 400 if status < 500 else 500
    return _problem(status, TITLES[status][1] + ".")


def _hint(path: str, calculators: Mapping[str, Calculator]) -> str:
    """The address that was meant, where its last part is nearly a calculator's."""
    front, _, last = path.rpartition("/")
    name, dot, suffix = last.partition(".")
    if front == "/v1":
        return did_you_mean(name, calculators) or "; /v1/ lists what there is."
    if hint := did_you_mean(name, calculators):
        meant = hint.removeprefix("; did you mean ").removesuffix("?")
        form = f".{suffix}" if f".{suffix}" in FORMS and dot else ""
        return f"; did you mean /v1/{meant}{form}?"
    return "; /v1/ lists what there is."


def _failed(fault: Exception) -> Response:
    log.error("a question failed", exc_info=fault)
    return _problem(500, "The service failed on this question; the fault is noted and the service goes on.")


def _with_headers(response: Response) -> Response:
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers.setdefault("Cache-Control", "no-store" if response.status_code >= 400 else "no-cache")
    return response
