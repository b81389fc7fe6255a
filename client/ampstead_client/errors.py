"""What can go wrong with a question.

    AmpsteadError
    ├── ConnectionFault          no answer came
    │   ├── Unreachable          refused, unknown host, broken off, certificate or proxy trouble
    │   └── TimedOut             too slow, in connecting or in answering
    ├── AnswerFault              an answer came, and its status tells of an error (redirects too)
    │   ├── InvalidQuestion      400, 422: the inputs are wrong; every fault is listed
    │   ├── Unauthorised         401, 403
    │   ├── NotFound             404
    │   ├── TooLarge             413, 414, 431
    │   ├── TooMany              429
    │   └── ServiceFault         5xx
    ├── Unreadable               success by its status, but not the answer expected
    └── NotInstalled             the embedded service is not there

A finding such as "do not charge this pack" is an answer, never an error. Every error pickles, and none shows
credentials of the service's address.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any


class AmpsteadError(Exception):
    """Root of every error of this package."""

    message: str
    """What went wrong, without the address."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message

    def __reduce__(self) -> tuple[Any, ...]:
        # The usual way calls the class with `args`, which keyword-only arguments refuse.
        return _revived, (type(self), self.args, self.__dict__)


def _revived(kind: type[AmpsteadError], args: tuple[Any, ...], state: dict[str, Any]) -> AmpsteadError:
    error = kind.__new__(kind, *args)
    error.__dict__.update(state)
    return error


class _Addressed(AmpsteadError):
    method: str
    """The request's method."""
    url: str
    """The request's address, without credentials."""
    request_id: str | None
    """What the service's log calls the request, where one went out."""

    def __init__(self, message: str, *, method: str, url: str) -> None:
        super().__init__(message)
        self.method = method
        self.url = url
        self.request_id = None

    def __str__(self) -> str:
        return f"{self.method} {self.url}: {self.message}"


class ConnectionFault(_Addressed):
    """No answer came, after every attempt."""


class Unreachable(ConnectionFault):
    """The connection could not be made, or broke off."""


class TimedOut(ConnectionFault):
    """The service took longer than the timeout to connect or to answer."""


class Unreadable(_Addressed):
    """Success by its status, but not the answer expected: a log-in page, or half an answer."""


@dataclass(frozen=True, slots=True)
class FieldError:
    """What is wrong with one input."""

    field: str
    """The input's name; nested as in `loads[1].power`."""
    code: str
    """For programs: `unknown`, `missing`, `unit_missing`, `out_of_range` and so on."""
    message: str
    """For people: what was read, what is wanted, what to do."""

    def __str__(self) -> str:
        of = self.field.rpartition(".")[0] or self.field  # of `loads[1].power` a message begins with `loads[1]`
        told = self.message.lower().startswith(of.lower())
        return self.message if told else f"{self.field}: {self.message}"


class AnswerFault(_Addressed):
    """The service answered with an error."""

    status: int
    """The HTTP status."""
    problem: Mapping[str, Any]
    """The problem document (RFC 9457), empty where the answer had none."""
    retry_after: float | None
    """Seconds that the service asks to wait, where it says so."""

    def __init__(
        self,
        message: str,
        *,
        method: str,
        url: str,
        status: int,
        problem: Mapping[str, Any] | None = None,
        retry_after: float | None = None,
    ) -> None:
        super().__init__(message, method=method, url=url)
        self.status = status
        self.problem = dict(problem or {})
        self.retry_after = retry_after

    def __str__(self) -> str:
        return f"{self.method} {self.url} answered {self.status}: {self.message}"


class InvalidQuestion(AnswerFault):
    """The service refused the question's inputs."""

    @property
    def errors(self) -> tuple[FieldError, ...]:
        """What is wrong with each input; empty where the question as a whole could not be read."""
        return field_errors(self.problem)

    def __str__(self) -> str:
        if not self.errors:
            return super().__str__()
        # The document's `detail` tells the same faults over again.
        return "\n  ".join([f"{self.method} {self.url} answered {self.status}:", *map(str, self.errors)])


class Unauthorised(AnswerFault):
    """The service, or a gateway before it, wants other credentials."""


class NotFound(AnswerFault):
    """There is no such calculator at this address."""


class TooLarge(AnswerFault):
    """The question is larger than the service takes."""


class TooMany(AnswerFault):
    """Too many questions at a time; `retry_after` tells when to come back."""


class ServiceFault(AnswerFault):
    """The service failed, or is overloaded."""


class NotInstalled(AmpsteadError):
    """The service is not installed in this Python, so that it cannot be embedded."""


_BY_STATUS: dict[int, type[AnswerFault]] = {
    400: InvalidQuestion,
    401: Unauthorised,
    403: Unauthorised,
    404: NotFound,
    413: TooLarge,
    414: TooLarge,
    422: InvalidQuestion,
    429: TooMany,
    431: TooLarge,
}


def field_errors(problem: Mapping[str, Any]) -> tuple[FieldError, ...]:
    """What a problem document tells of each input."""
    entries = problem.get("errors")
    return tuple(
        FieldError(*(str(entry.get(name, "")) for name in ("field", "code", "message")))
        for entry in (entries if isinstance(entries, list) else ())
        if isinstance(entry, Mapping)
    )


_LONGEST_DETAIL = 4000


def answer_fault(
    document: object, *, url: str, status: int, message: str | None = None, retry_after: float | None = None
) -> AnswerFault:
    """The error for an HTTP status, in the words of `message` or else of the problem document."""
    problem = document if isinstance(document, dict) else {}
    phrase = HTTPStatus(status).phrase if status in set(HTTPStatus) else "no reason given"
    kind = ServiceFault if status >= 500 else _BY_STATUS.get(status, AnswerFault)
    return kind(
        str(message or problem.get("detail") or problem.get("title") or phrase)[:_LONGEST_DETAIL],
        method="POST",
        url=url,
        status=status,
        problem=problem,
        retry_after=retry_after,
    )
