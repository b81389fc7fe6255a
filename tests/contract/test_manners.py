"""Manners of HTTP (RFC 9110, RFC 9111, the Fetch standard): tags, compression, other origins, forms by Accept."""

import csv
import gzip
import io
import json
from collections.abc import Iterator, Mapping

import pytest
from flask.testing import FlaskClient

from ampstead.app import create_app
from ampstead.calculators import registry
from ampstead.replying import forms, manners

GLIDER = "cells=3&capacity=1150mAh&rate=1C"
ASKED = f"/v1/wattage?{GLIDER}"
PICTURE = f"/v1/charge-current.svg?{GLIDER}"
PLACES = (ASKED, f"/v1/wattage.txt?{GLIDER}", PICTURE, "/openapi.json", "/v1/")
FAULTS = ("/v1/wattage", "/v1/wattage.txt", "/v1/nothing", "/v1/wattage.pdf", "/nothing")


@pytest.fixture
def shut(monkeypatch: pytest.MonkeyPatch) -> Iterator[pytest.MonkeyPatch]:
    """The environment, of which the service forgets what it has read."""

    def forgotten() -> None:
        manners.of_every_reply.cache_clear()
        forms.headed_by.cache_clear()

    forgotten()
    yield monkeypatch
    monkeypatch.undo()
    forgotten()


@pytest.mark.parametrize("place", PLACES)
def test_who_has_an_answer_already_is_told_so(place: str, http: FlaskClient) -> None:
    first = http.get(place)
    tagged = first.headers["ETag"]
    assert "max-age" in first.headers["Cache-Control"] or place in ("/openapi.json", "/v1/")
    for had in (tagged, f'"other", {tagged}', tagged.removeprefix("W/"), "*"):
        again = http.get(place, headers={"If-None-Match": had})
        assert (again.status_code, again.data) == (304, b""), had
        assert again.headers["ETag"] == tagged
        assert "Content-Type" not in again.headers
        assert again.headers["Vary"] == first.headers["Vary"]
    for other in ('"other"', "", tagged[:-2] + '"'):
        assert http.get(place, headers={"If-None-Match": other}).status_code == 200


def test_the_tag_is_that_of_the_content(http: FlaskClient) -> None:
    tags = [http.get(f"/v1/wattage?cells={cells}&capacity=1150mAh").headers["ETag"] for cells in (3, 3, 4)]
    assert tags[0] == tags[1] != tags[2]
    assert "ETag" not in http.get("/v1/wattage").headers
    assert "ETag" not in http.post("/v1/wattage", json={"cells": 3, "capacity": "1150 mAh"}).headers


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("wish", ["gzip", "br, GZIP;q=0.5", "deflate, *"])
def test_what_is_long_comes_compressed_to_who_takes_it(place: str, wish: str, http: FlaskClient) -> None:
    plain, packed = http.get(place), http.get(place, headers={"Accept-Encoding": wish})
    if len(plain.data) > 1024:
        assert packed.headers["Content-Encoding"] == "gzip"
        assert gzip.decompress(packed.data) == plain.data
        assert len(packed.data) < len(plain.data)
    else:
        assert packed.data == plain.data
    assert int(packed.headers["Content-Length"]) == len(packed.data)
    assert packed.headers["ETag"] == plain.headers["ETag"]
    assert "Accept-Encoding" in plain.headers["Vary"]


@pytest.mark.parametrize("wish", ["", "identity", "gzip;q=0", "br", "*;q=0"])
def test_who_does_not_take_gzip_gets_none(wish: str, http: FlaskClient) -> None:
    assert "Content-Encoding" not in http.get(ASKED, headers={"Accept-Encoding": wish}).headers


def test_a_bitmap_is_not_compressed_again(http: FlaskClient) -> None:
    reply = http.get(f"/v1/charge-current.png?{GLIDER}", headers={"Accept-Encoding": "gzip"})
    assert len(reply.data) > 1024
    assert "Content-Encoding" not in reply.headers


def test_errors_and_batches_are_compressed_too(http: FlaskClient) -> None:
    wish = {"Accept-Encoding": "gzip"}
    wrong = "&".join(f"wing{place}=1" for place in range(30))
    fault = http.get(f"/v1/wattage?{wrong}", headers=wish)
    many = http.post("/v1/wattage/batch", json={"questions": [{"cells": 3, "capacity": "1 Ah"}] * 20}, headers=wish)
    for reply in (fault, many):
        assert reply.headers["Content-Encoding"] == "gzip"
        assert json.loads(gzip.decompress(reply.data))


@pytest.mark.parametrize("place", [*PLACES, *FAULTS, "/healthz", "/version", "/metrics"])
def test_every_reply_may_be_read_by_pages_of_any_origin_and_leads_to_the_document(
    place: str, http: FlaskClient
) -> None:
    reply = http.get(place, headers={"Origin": "https://club.example"})
    assert reply.headers.get_all("Access-Control-Allow-Origin") == ["*"]
    assert "Retry-After" in reply.headers["Access-Control-Expose-Headers"]
    assert reply.headers["Link"] == '</openapi.json>; rel="service-desc"'
    assert "Access-Control-Allow-Credentials" not in reply.headers


@pytest.mark.parametrize("place", ["/v1/wattage", "/v1/wattage.txt", "/v1/wattage/batch", "/v1/wattage/"])
def test_a_browser_that_asks_beforehand_is_told_what_it_may(place: str, http: FlaskClient) -> None:
    asks = {"Origin": "https://club.example", "Access-Control-Request-Method": "POST"}
    reply = http.options(place, headers=asks | {"Access-Control-Request-Headers": "content-type,authorization"})
    assert (reply.status_code, reply.data) == (204, b"")
    assert "POST" in reply.headers["Access-Control-Allow-Methods"]
    assert {"Authorization", "Content-Type"} <= {*reply.headers["Access-Control-Allow-Headers"].split(", ")}
    assert int(reply.headers["Access-Control-Max-Age"]) >= 600
    assert "POST" in reply.headers["Allow"]


def test_the_operator_closes_the_service_to_other_origins(shut: pytest.MonkeyPatch) -> None:
    shut.setenv("AMPSTEAD_CORS", "off")
    http = create_app().test_client()
    for reply in (http.get(ASKED), http.get("/v1/wattage"), http.get("/openapi.json"), http.options("/v1/wattage")):
        assert [name for name in reply.headers.keys() if name.startswith("Access-Control")] == []  # noqa: SIM118


def test_or_opens_it_to_one(shut: pytest.MonkeyPatch) -> None:
    shut.setenv("AMPSTEAD_CORS", "https://club.example")
    http = create_app().test_client()
    assert http.get(ASKED).headers["Access-Control-Allow-Origin"] == "https://club.example"


@pytest.mark.parametrize("wrong", ["yes", "https://a.example https://b.example", "https://a.example/page", "a\r\nb: c"])
def test_a_setting_that_is_no_origin_is_refused(wrong: str) -> None:
    with pytest.raises(ValueError, match="AMPSTEAD_CORS must be"):
        manners.allowed_origin({"AMPSTEAD_CORS": wrong})


@pytest.mark.parametrize(
    ("accept", "media"),
    [
        ("application/json", "application/json"),
        ("*/*", "application/json"),
        ("application/*", "application/json"),
        ("text/plain", "text/plain"),
        ("text/csv", "text/csv"),
        ("image/svg+xml", "image/svg+xml"),
        ("image/png", "image/png"),
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", "application/json"),
        ("text/csv;q=0.5, application/json;q=0.4", "text/csv"),
        ("text/csv;q=0.4, application/json;q=0.5", "application/json"),
        ("text/plain;q=0, */*", "application/json"),
    ],
)
def test_accept_works_as_the_suffix_does(accept: str, media: str, http: FlaskClient) -> None:
    suffix = {"text/plain": ".txt", "text/csv": ".csv", "image/svg+xml": ".svg", "image/png": ".png"}.get(media, "")
    reply = http.get(f"/v1/charge-current?{GLIDER}", headers={"Accept": accept})
    assert (reply.status_code, reply.mimetype) == (200, media)
    assert reply.data == http.get(f"/v1/charge-current{suffix}?{GLIDER}").data
    assert "Accept" in reply.headers["Vary"].split(", ")
    posted = http.post(
        "/v1/charge-current", json={"cells": 3, "capacity": "1150mAh", "rate": 1}, headers={"Accept": accept}
    )
    assert (posted.mimetype, posted.data) == (media, reply.data)


def test_an_error_comes_in_the_form_asked_for(http: FlaskClient) -> None:
    reply = http.get("/v1/wattage", headers={"Accept": "text/plain"})
    assert (reply.status_code, reply.mimetype) == (422, "text/plain")
    assert http.get("/v1/wattage", headers={"Accept": "text/csv"}).mimetype == "application/problem+json"


@pytest.mark.parametrize("accept", ["text/html", "application/xml", "image/webp", "application/json;q=0"])
def test_a_form_that_there_is_not_is_refused_and_told_which_there_are(accept: str, http: FlaskClient) -> None:
    reply = http.get(ASKED, headers={"Accept": accept})
    assert reply.status_code == 406
    assert "text/csv" in reply.json["detail"]
    assert http.get(f"/v1/wattage.csv?{GLIDER}", headers={"Accept": "application/json"}).status_code == 406


@pytest.mark.parametrize("place", PLACES)
def test_head_tells_what_get_would(place: str, http: FlaskClient) -> None:
    got, head = http.get(place), http.head(place)
    assert (head.status_code, head.data) == (got.status_code, b"")
    assert head.headers["ETag"] == got.headers["ETag"]
    assert head.headers["Content-Type"] == got.headers["Content-Type"]
    assert head.headers["Content-Length"] == got.headers["Content-Length"]


@pytest.mark.parametrize(
    "place", ["/v1/wattage/", "/v1//wattage", "/v1/nothing/", "/v1/wattage.txt/", "/openapi.json/"]
)
@pytest.mark.parametrize("method", ["GET", "HEAD", "OPTIONS", "POST", "PUT"])
def test_nothing_under_v1_is_ever_a_page(place: str, method: str, http: FlaskClient) -> None:
    reply = http.open(place, method=method)
    assert "html" not in reply.headers.get("Content-Type", "")
    assert reply.status_code in (200, 204, 404, 405, 415, 422)


@pytest.mark.parametrize("name", [name for name, calculator in registry().items() if not calculator.curve])
def test_a_calculator_without_a_curve_has_a_table_of_one_row_headed_as_in_a_batch(name: str, http: FlaskClient) -> None:
    example: Mapping[str, object] = registry()[name].examples[0]
    reply = http.post(f"/v1/{name}.csv", json=example)
    assert (reply.status_code, reply.mimetype) == (200, "text/csv")
    heads, row = csv.reader(io.StringIO(reply.text))
    scalars = {key: value for key, value in example.items() if isinstance(value, str | int | float)}
    if scalars.keys() == example.keys():
        sent = io.StringIO()
        csv.writer(sent).writerows([list(scalars), [str(value).replace(",", " ") for value in scalars.values()]])
        batch = http.post(f"/v1/{name}/batch", data=sent.getvalue().encode(), content_type="text/csv")
        many_heads, many_row = csv.reader(io.StringIO(batch.text))
        assert (heads, row) == (many_heads[len(scalars) :], many_row[len(scalars) :])
    assert any(cell for cell in row)
    assert heads[-2:] == ["caution", "problem"]
