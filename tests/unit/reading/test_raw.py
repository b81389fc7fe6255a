"""The query of an address, against the standard library's own reading of it."""

from urllib.parse import parse_qsl, urlencode

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from ampstead.errors import Problem, Refusal
from ampstead.reading.raw import from_body, from_query

ESCAPES = st.sampled_from(["%", "%2", "%2C", "%2c", "%20", "%25", "C", "0", "+", "&", "=", ",", "a", "%C3%A9", "%ff"])


@example(parts=["a", "=", "%", "%2C", "C"])
@example(parts=["a", "=", "%2", "%2C"])
@example(parts=["a", "=", "%25", "2C"])
@given(parts=st.lists(ESCAPES, max_size=12))
def test_any_escapes_are_read_as_the_library_reads_them(parts: list[str]) -> None:
    text = "".join(parts)
    pairs = parse_qsl(text, keep_blank_values=True)
    if len(dict(pairs)) < len(pairs):
        with pytest.raises(Refusal):
            from_query(text)
    else:
        assert from_query(text) == dict(pairs)


@given(st.dictionaries(st.text(min_size=1, max_size=5), st.text(max_size=9), max_size=4))
def test_what_any_library_writes_comes_back(question: dict[str, str]) -> None:
    assert from_query(urlencode(question)) == question


@pytest.mark.parametrize("body", [b"", b"[1]", b'{"a":NaN}', b'{"a":1,"a":2}', b"\xff\xfe", b'"a"'])
def test_a_body_that_is_no_object_of_named_inputs_is_refused(body: bytes) -> None:
    with pytest.raises(Problem) as told:
        from_body(body, "application/json")
    assert told.value.status == 400


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-32", "utf-8-sig"])
def test_a_body_in_any_encoding_of_json_is_read(encoding: str) -> None:
    assert from_body('{"name": "größer"}'.encode(encoding), "application/json; charset=x") == {"name": "größer"}


@pytest.mark.parametrize(
    ("body", "place"),
    [
        (b"{'cells': 4}", "line 1, column 2"),
        (b'{\n  "cells": 4\n  "rate": 1\n}', "line 3, column 3"),
        (b"", "line 1, column 1"),
    ],
)
def test_a_body_that_is_no_json_is_told_where_it_ceases_to_be(body: bytes, place: str) -> None:
    with pytest.raises(Problem, match=rf"JSON that can be read: look at {place}\.$"):
        from_body(body, "application/json")
