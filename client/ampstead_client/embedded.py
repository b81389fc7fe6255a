"""The service in this process, with no socket.

The service's package registers itself under an entry point; this package never imports it by name, and
needs it only here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib.metadata import entry_points
from typing import Any
from urllib.parse import quote

from ampstead_client.errors import NotInstalled, ServiceFault, answer_fault

GROUP = "ampstead_client.embedded"
INSTALL = "in a clone of it, pip install . ./client"


class EmbeddedTransport:
    """The service that is installed beside the client.

    The entry point's object takes a calculator's name, a question of JSON values and, for another form than JSON, its
    suffix. It gives an HTTP status, with the answer or the problem document, or the body of that form.

    Raises `NotInstalled` where there is none, or it cannot be imported.
    """

    def __init__(self) -> None:
        found = sorted(entry_points(group=GROUP), key=lambda point: point.name)
        if not found:
            raise NotInstalled(f"the service is not installed in this Python: {INSTALL}")
        try:
            self._service: Callable[..., tuple[int, Any]] = found[0].load()
        except (ImportError, AttributeError) as fault:
            raise NotInstalled(
                f"the service is there, but {found[0].value} cannot be imported ({fault}): {INSTALL}"
            ) from fault

    def address(self, calculator: str) -> str:
        """Where a question goes, in the form of an address."""
        return f"embedded:/v1/{quote(calculator)}"

    def ask(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
        """The answer to a question. Raises the `AnswerFault` of its status."""
        document: dict[str, Any] = self._asked(calculator, question, calculator)
        return document

    def fetch(self, calculator: str, question: Mapping[str, Any], form: str) -> bytes:
        """The answer in another form: `csv`, `svg` or `png`. Raises the `AnswerFault` of its status."""
        body: bytes = self._asked(calculator, question, f"{calculator}.{form}", f".{form}")
        return body

    def _asked(self, calculator: str, question: Mapping[str, Any], path: str, *form: str) -> Any:
        url = self.address(path)
        try:
            status, made = self._service(calculator, question, *form)
        except Exception as fault:
            message = f"the embedded service failed: {type(fault).__name__}: {fault}"
            raise ServiceFault(message, method="POST", url=url, status=500) from fault
        if not 200 <= status < 300:
            raise answer_fault(made, url=url, status=status)
        return made

    def close(self) -> None:
        """Nothing is held."""

    def __repr__(self) -> str:
        return "EmbeddedTransport()"
