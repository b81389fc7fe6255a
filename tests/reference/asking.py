"""Questions put to the service as a user would, for the tests of calculators."""

from functools import cache
from typing import Any

from ampstead.app import create_app


@cache
def client() -> Any:
    return create_app().test_client()


def reply(calculator: str, **question: Any) -> dict[str, Any]:
    """The whole reply to a question posted as JSON."""
    got = client().post(f"/v1/{calculator}", json=question)
    assert got.status_code == 200, got.get_json()
    document: dict[str, Any] = got.get_json()
    return document


def plain(result: Any) -> Any:
    """A result without its unit."""
    if isinstance(result, dict) and result.keys() == {"value", "unit"}:
        return result["value"]
    if isinstance(result, dict):
        return {name: plain(value) for name, value in result.items()}
    return [plain(element) for element in result] if isinstance(result, list) else result


def answer(calculator: str, **question: Any) -> dict[str, Any]:
    """The results as plain numbers in the units of answers."""
    results: dict[str, Any] = plain(reply(calculator, **question)["answer"])
    return results


def cautions(calculator: str, **question: Any) -> list[str]:
    """The codes of the cautions, gravest first."""
    return [entry["code"] for entry in reply(calculator, **question)["cautions"]]


def spoken(calculator: str, **question: Any) -> str:
    """The answer as a phone reads it out."""
    got = client().get(f"/v1/{calculator}.txt", query_string=question)
    assert got.status_code == 200, got.text
    text: str = got.text
    return text


def refusals(calculator: str, **question: Any) -> set[tuple[str, str]]:
    """Field and code of everything that is wrong with a question."""
    got = client().post(f"/v1/{calculator}", json=question)
    assert got.status_code == 422, got.get_json()
    return {(error["field"], error["code"]) for error in got.get_json()["errors"]}


client().get("/healthz")  # so that no property pays for the start within its deadline
