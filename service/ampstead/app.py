"""The HTTP service: one loop over the calculators, one shape of error. Nothing happens at import."""

import json
import logging
from collections.abc import Callable, Mapping
from types import ModuleType
from typing import Any

from flask import Flask, Request, Response, redirect, request
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge

from ampstead import openapi
from ampstead.calculators import registry
from ampstead.declare import Calculator
from ampstead.errors import (
    TITLES,
    FieldError,
    Problem,
    Refusal,
    clipped,
    did_you_mean,
    problem_document,
    refusal_document,
)
from ampstead.replying.answers import Answered, answered, service_version, spoken

JSON, PROBLEM, TEXT = "application/json", "application/problem+json", "text/plain"
LONGEST_BODY = 64 * 1024
LONGEST_ADDRESS = 16 * 1024
LONGEST_HEADERS = 32 * 1024

log = logging.getLogger("ampstead")


def create_app(package: ModuleType | None = None) -> Flask:
    """The service as a WSGI application, over the calculators of a package (the project's own by default)."""
    app = Flask("ampstead", static_folder=None)
    app.url_map.strict_slashes = False
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
            app.add_url_rule(path, endpoint=path, view_func=view, methods=calculator.methods, strict_slashes=True)

    app.before_request(_within_limits)
    app.register_error_handler(Refusal, _refused)
    app.register_error_handler(Problem, lambda fault: _problem(fault.status, fault.detail, fault.headers))
    app.register_error_handler(HTTPException, lambda fault: _http_fault(fault, calculators))
    app.register_error_handler(Exception, _failed)
    app.after_request(_with_headers)
    return app


def _view(calculator: Calculator, suffix: str) -> Callable[[], Response]:
    form, reply = FORMS[suffix]

    def view() -> Response:
        _wanted("", form)
        raw = _from_query(request) if request.method in ("GET", "HEAD") else _from_body(request)
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


def _from_query(asked: Request) -> dict[str, Any]:
    repeated = [name for name, values in asked.args.lists() if len(values) > 1]
    if repeated:
        raise Refusal(
            FieldError(clipped(name), "repeated", f"{clipped(name)} is given more than once: give it once")
            for name in repeated
        )
    return asked.args.to_dict()


def _from_body(asked: Request) -> dict[str, Any]:
    if asked.args:
        said = "give every input in the body, none in the address"
        raise Refusal(FieldError(clipped(name), "conflict", f"{clipped(name)}: {said}") for name in asked.args)
    if asked.mimetype != JSON:
        raise Problem(415, f'The question must be JSON: send it with the header "Content-Type: {JSON}".')
    try:
        raw = json.loads(asked.get_data(), object_pairs_hook=_without_repeats, parse_constant=_no_constant)
    except (ValueError, RecursionError) as fault:
        detail = str(fault) if isinstance(fault, _NotJson) else "The body is not JSON that can be read."
        raise Problem(400, detail) from None
    if not isinstance(raw, dict):
        raise Problem(400, "The question must be a JSON object of named inputs.")
    return raw


class _NotJson(ValueError):
    """JSON that a lenient reader would take, and which is refused here."""


def _without_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    read = dict(pairs)
    if len(read) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise _NotJson(f"The name {clipped(twice)} stands twice in one object of the body.")
    return read


def _no_constant(name: str) -> float:
    raise _NotJson(f"{name} is not JSON; every number must be finite.")


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
    document = refusal_document(refusal)
    if request.path.endswith(".txt"):
        return Response(document["detail"] + "\n", 422, mimetype=TEXT)
    return Response(dumped(document), 422, mimetype=PROBLEM)


def _http_fault(fault: HTTPException, calculators: Mapping[str, Calculator]) -> Response:
    status = fault.code or 500
    headers = {name: _in_order(value) for name, value in fault.get_headers() if name == "Allow"}
    if status == 404:
        asked = request.path.removeprefix("/v1/").removesuffix(".txt")
        hint = did_you_mean(asked, calculators) or "; /v1/ lists what there is."
        return _problem(404, f"There is nothing at {clipped(request.path, 80)}{hint}")
    if isinstance(fault, RequestEntityTooLarge):
        return _problem(413, f"The body is larger than {LONGEST_BODY // 1024} kilobytes.")
    if status == 405:
        return _problem(
            405, f"{clipped(request.method)} is not offered here; use {headers.get('Allow', 'GET')}.", headers
        )
    if status not in TITLES:
        status = 400 if status < 500 else 500
    return _problem(status, TITLES[status][1] + ".", headers)


def _failed(fault: Exception) -> Response:
    log.error("a question failed", exc_info=fault)
    return _problem(500, "The service failed on this question; the fault is noted and the service goes on.")


def _in_order(allowed: str) -> str:
    """The methods of an ``Allow``, which come from a set and so in an order of their own in each process."""
    return ", ".join(sorted(allowed.split(", ")))


def _with_headers(response: Response) -> Response:
    if "Allow" in response.headers:
        response.headers["Allow"] = _in_order(response.headers["Allow"])
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers.setdefault("Cache-Control", "no-store" if response.status_code >= 400 else "no-cache")
    return response
