"""Markup, control characters, formulas, packed bodies, colliding names and crooked paths, through every form."""

import csv
import gc
import gzip
import io
import json
import time
import tracemalloc
from typing import Any
from xml.etree import ElementTree

import pytest
from flask.testing import FlaskClient

from ampstead.calculators import registry
from ampstead.replying.forms import FORMS

CALCULATORS = registry()
QUESTION = {"cells": 3, "capacity": "2250 mAh"}
HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "]]><!--<svg onload=alert(1)>",
    "&lt;b&gt;&#60;",
    "=HYPERLINK(1)",
    "+1+cmd|' /C calc'!A0",
    "@SUM(1)",
    "-1+1",
    "\tred\r\n=1",
    "red\x00blue",
    "\x1b[31mred\x1b[0m",
    "red\u202eeulb",
    "red\u2028blue\u2029",
    "\x9b31m",
    "\ud800",
    "%s%n{0}{{7*7}}${7*7}",
    "../../etc/passwd",
    "e\u0301" * 60,
]
DANGEROUS = {*map(chr, range(0x20)), *map(chr, range(0x7F, 0xA0)), *"\u2028\u2029\u202a\u202b\u202c\u202d\u202e"}
each = pytest.mark.parametrize("text", HOSTILE, ids=ascii)


def texts(document: Any) -> list[str]:
    """Every text in a reply that the service itself wrote: all but the question as it was read."""
    if isinstance(document, dict):
        return [told for name, entry in document.items() if name not in ("question", "name") for told in texts(entry)]
    if isinstance(document, list):
        return [told for entry in document for told in texts(entry)]
    return [document] if isinstance(document, str) else []


@each
@pytest.mark.parametrize("place", ["value", "name", "pack"])
@pytest.mark.parametrize("suffix", FORMS)
def test_no_hostile_text_comes_back_alive_in_any_form(place: str, suffix: str, text: str, http: FlaskClient) -> None:
    if place == "pack":
        packs = [{"name": text, "cells": 3, "capacity": "2250 mAh", "rest_voltage": "11.31 V"} for _ in range(2)]
        name, question = "parallel-join", {"packs": packs}
    else:
        extra = {"chemistry": text} if place == "value" else {text: "1 V"}
        name, question = "charge-current", {**QUESTION, **extra}
    reply = http.post(f"/v1/{name}{suffix}", data=json.dumps(question), content_type="application/json")
    assert reply.status_code in (200, 422)
    assert reply.headers["X-Content-Type-Options"] == "nosniff"
    assert reply.mimetype != "text/html"
    if reply.mimetype == "image/svg+xml":
        for element in ElementTree.fromstring(reply.data).iter():
            assert element.tag.rpartition("}")[2] not in ("script", "img", "foreignObject", "a")
            assert not any(name.lower().startswith("on") for name in element.attrib)
        assert not set(reply.text) & (DANGEROUS - set("\n\t"))
    elif reply.mimetype == "text/plain":
        assert not set(reply.text) & (DANGEROUS - {"\n"})
    elif reply.mimetype == "text/csv":
        for row in csv.reader(io.StringIO(reply.text)):
            assert not any(cell.startswith(("=", "+", "@", "\t", "\r")) for cell in row)
    elif reply.mimetype != "image/png":
        for told in texts(json.loads(reply.data)):
            assert not set(told) & DANGEROUS, ascii(told)


@each
def test_a_tables_cells_are_never_formulas_of_ours(text: str, http: FlaskClient) -> None:
    written = io.StringIO()
    csv.writer(written).writerows([["pack", "cells", "capacity"], ["a", "3", text], ["b", text, "2250 mAh"]])
    body = written.getvalue().encode("utf-8", "surrogatepass")
    reply = http.post("/v1/wattage/batch", data=body, content_type="text/csv")
    assert reply.status_code in (200, 400, 422)
    if reply.status_code == 200:
        head, *rows = csv.reader(io.StringIO(reply.text))
        ours = [at for at, name in enumerate(head) if name.startswith(("answer.", "caution", "problem"))]
        assert ours
        for row in rows:
            assert not any(row[at].startswith(("=", "+", "@", "\t")) for at in ours if at < len(row))


@pytest.mark.parametrize("path", ["/v1/wattage", "/v1/wattage.txt", "/v1/wattage/batch"])
@pytest.mark.parametrize("coding", ["gzip", "deflate", "br", "GZIP", "gzip, gzip", "zstd"])
def test_a_packed_body_is_refused_unread(path: str, coding: str, http: FlaskClient) -> None:
    bomb = gzip.compress(b" " * 50_000_000, 9)[:60_000]
    begun = time.process_time()
    reply = http.post(path, data=bomb, content_type="application/json", headers={"Content-Encoding": coding})
    assert reply.status_code == 415
    assert "Content-Encoding" in reply.text
    assert time.process_time() - begun < 1
    plain = http.post("/v1/wattage", json=QUESTION, headers={"Content-Encoding": "identity"})
    assert plain.status_code == 200


def test_names_that_collide_cost_no_more_than_others(http: FlaskClient) -> None:
    """Whole numbers that differ by the modulus of Python's hash would; they are texts here, hashed with a secret."""
    modulus = 2**61 - 1
    took = []
    for step in (modulus, 1):
        question = {str(number * step): 1 for number in range(2000)}
        begun = time.process_time()
        assert http.post("/v1/wattage", json=question).status_code == 422
        took.append(time.process_time() - begun)
    assert took[0] < 10 * took[1] + 0.1


@pytest.mark.parametrize(
    "body",
    [
        "[" * 30_000,
        '{"a":' * 10_000,
        '{"cells": ' + "9" * 60_000 + "}",
        '{"cells": 1e' + "9" * 1000 + "}",
        '{"capacity": "' + "9" * 60_000 + ' mAh"}',
        '{"capacity": "1 ' + "m" * 60_000 + '"}',
        '{"capacity": "1 ' + "m*" * 20_000 + 'm"}',
        '{"capacity": {"value": [' + "1," * 20_000 + '1], "unit": "mAh"}}',
        '{"cells": 3, ' * 4000,
        '{"' + "a" * 60_000 + '": 1}',
        "{" + ",".join(f'"cells{number}": 3' for number in range(3000)) + "}",
        "\ufeff" + '{"cells": 3}',
        "nul",
    ],
    ids=lambda body: body[:16],
)
def test_a_body_made_to_burst_is_refused_soon(body: str, http: FlaskClient) -> None:
    begun = time.process_time()
    reply = http.post("/v1/wattage", data=body.encode(), content_type="application/json")
    assert reply.status_code in (400, 413, 422)
    assert len(reply.data) < 20_000
    assert time.process_time() - begun < 1


BURSTING = {
    "empty questions": ('{"questions":[' + ",".join(["{}"] * 2_600_000) + "]}", "application/json"),
    "empty lists": ('{"questions":[{"cells":[' + ",".join(["[]"] * 2_600_000) + "]}]}", "application/json"),
    "lists in rows": ('{"questions":[' + ",".join(['{"cells":[[[]]]}'] * 100_000) + "]}", "application/json"),
    "values": ('{"questions":[{"capacity":[' + ",".join(["0.5"] * 2_000_000) + "]}]}", "application/json"),
    "names": ("".join(['{"questions":[{', *(f'"{n:x}":0,' for n in range(200_000)), '"":0}]}']), "application/json"),
    "rows": ("cells\n" + "3\n" * 4_000_000, "text/csv"),
    "columns": (",".join(["a"] * 4_000_000) + "\n3\n", "text/csv"),
    "cells": ("cells" + ",x" * 390 + "\n" + ("3" + "," * 390 + "\n") * 10_000, "text/csv"),
    "some thousand columns": (",".join(["cells", *(f"capacit{n}" for n in range(5000))]) + "\n3\n", "text/csv"),
}


@pytest.mark.parametrize("name", BURSTING)
def test_a_batch_made_to_burst_is_refused_soon_and_in_little_memory(name: str, http: FlaskClient) -> None:
    text, kind = BURSTING[name]
    body = text.encode()
    gc.collect()
    tracemalloc.start()
    begun = time.process_time()
    try:
        reply = http.post("/v1/wattage/batch", data=body, content_type=kind)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert reply.status_code == 413
    assert time.process_time() - begun < 3
    assert most < 100_000_000


def test_a_large_batch_that_means_well_is_answered(http: FlaskClient) -> None:
    cells = [{"value": 3.861, "unit": "V"}] * 14
    body = {"common": {"capacity": "2250 mAh"}, "questions": [{"cell_voltages": cells}] * 10_000}
    assert http.post("/v1/balance-need/batch", json=body).status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "/v1/../etc/passwd",
        "/v1/%2e%2e/%2e%2e/etc/passwd",
        "/static/../../pyproject.toml",
        "/static/%2e%2e/app.py",
        "/static//etc/passwd",
        "/static/..\\..\\app.py",
        "/v1/wattage/../../healthz",
        "/v1/wattage%00.txt",
        "/v1/wattage.txt%00",
        "/v1/wattage%2ftxt",
        "/v1/wattage;.txt",
        "/%5c%5cevil.example",
        "/v1/\u202ewattage",
        "/v1/wattage.txt.exe",
        "/.git/config",
    ],
)
def test_a_crooked_path_leads_nowhere(path: str, http: FlaskClient) -> None:
    reply = http.get(path)
    assert reply.status_code == 404
    assert reply.mimetype in ("application/problem+json", "text/plain")
    assert "root:" not in reply.text
    assert "import" not in reply.text
