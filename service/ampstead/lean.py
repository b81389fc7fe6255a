"""Flask without what costs time and is never needed here, at the start and for each request."""

import gc
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from flask import Flask, Request, Response
from werkzeug.routing import MapAdapter, Rule

from ampstead.replying.forms import Reply


class Address(Rule):
    """An address that stands for itself. To prepare for building it from an endpoint, which nobody asks for, would cost
    a sixth of the start."""

    def _compile_builder(self, append_unknown: bool = True) -> Callable[..., tuple[str, str]]:
        return lambda rule, **values: ("", rule.rule)


class Service(Flask):
    """Flask without what is looked at for every request and is never so here: no function is asynchronous, none hangs
    on the host."""

    url_rule_class = Address

    def ensure_sync(self, func: Callable[..., Any]) -> Callable[..., Any]:
        return func

    def create_url_adapter(self, request: Request | None) -> MapAdapter | None:
        """Addresses are told apart by their path alone, whatever host was asked."""
        if request is None:
            return super().create_url_adapter(None)
        return MapAdapter(self.url_map, "", "/", "", request.scheme, request.path, request.method)


class Whole(Response):
    """A reply that has every header with which it goes out, so that none is looked for again."""

    default_mimetype = None

    def __init__(self, made: Reply) -> None:
        super().__init__(made.body, made.status)
        self.whole = made

    def get_wsgi_response(self, environ: dict[str, Any]) -> tuple[Iterable[bytes], str, list[tuple[str, str]]]:
        status, headers, body = self.whole
        if status == 304:
            return (), self.status, [*headers]
        told = [*headers, ("Content-Length", str(len(body)))]
        return () if environ["REQUEST_METHOD"] == "HEAD" else (body,), self.status, told


@contextmanager
def uncollected() -> Iterator[None]:
    """Garbage is not looked for meanwhile: what a start makes stays, and looking through it time and again would cost a
    tenth of it."""
    collected = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collected:
            gc.enable()
