"""What two programs could read differently is refused (RFC 8259 section 4 and 6, RFC 7493)."""

import io
from types import SimpleNamespace

import pytest
from rest_framework.exceptions import ParseError

from api.parser import MOST_BYTES, StrictJSONParser, TooLarge, read


@pytest.mark.parametrize(
    "body",
    [
        pytest.param(b"", id="nothing"),
        pytest.param(b"{not json", id="not JSON"),
        pytest.param(b'{"a": 1} {"a": 2}', id="two values"),
        pytest.param(b'{"a": 1, "a": 1}', id="a key twice"),
        pytest.param(b'{"x": {"a": 1, "a": 2}}', id="a key twice, inside"),
        pytest.param(b'{"a": NaN}', id="NaN"),
        pytest.param(b'{"a": Infinity}', id="infinity"),
        pytest.param(b'{"a": -Infinity}', id="minus infinity"),
        pytest.param(b'{"a": 1e999}', id="a number beyond a double"),
        pytest.param(b'{"a": ' + b"9" * 5000 + b"}", id="thousands of digits"),
        pytest.param(b'{"a": 0.' + b"1" * 100_000 + b"}", id="a hundred thousand digits behind the point"),
        pytest.param(b'{"a": 1e' + b"0" * 100_000 + b"1}", id="a hundred thousand digits in the exponent"),
        pytest.param(b'{"a": 1e-400}', id="a number that a double takes for 0"),
        pytest.param(b'{"a": -0.01E-320}', id="a number of which a double keeps a few digits"),
        pytest.param(b"[" * 40 + b"]" * 40, id="nested 40 deep"),
        pytest.param(b"[" * 100_000, id="nested 100,000 deep, unclosed"),
        pytest.param(b'{"a":' * 50_000 + b"1" + b"}" * 50_000, id="nested 50,000 deep"),
        pytest.param('{"a": "é"}'.encode("latin-1"), id="not UTF-8"),
        pytest.param(b'\xef\xbb\xbf{"a": 1}', id="a byte order mark"),
        pytest.param(b'{"a": "\\ud800"}', id="half a character"),
        pytest.param(b'{"\\uDfff": 1}', id="half a character as a key"),
    ],
)
def test_a_malformed_body_is_refused(body):
    with pytest.raises(ParseError):
        read(body)


@pytest.mark.parametrize(
    ("body", "value"),
    [
        pytest.param(b'{"a": 1, "b": [1.5, null, true]}', {"a": 1, "b": [1.5, None, True]}, id="plain values"),
        pytest.param(b"[" * 20 + b"]" * 20, read(b"[" * 20 + b"]" * 20), id="nested 20 deep"),
        pytest.param(b"[0.0, 0e-400, -0.0, 2.5e-300]", [0.0, 0.0, -0.0, 2.5e-300], id="nothing, and very little"),
        pytest.param(b"[[1],[2],[3]]" + b" " * 10, [[1], [2], [3]], id="trailing space"),
        pytest.param(b'"\\ud83d\\ude91"', "🚑", id="a pair of halves is a character"),
    ],
)
def test_a_sound_body_is_read(body, value):
    assert read(body) == value


def test_many_shallow_objects_are_not_deep():
    assert len(read(b"[" + b",".join([b"{}"] * 1000) + b"]")) == 1000


@pytest.mark.parametrize("stated", [str(MOST_BYTES + 1), "9" * 5000, ""], ids=["as stated", "absurdly", "as read"])
def test_a_body_over_256_kib_is_refused(stated):
    stream = io.BytesIO(b" " * (MOST_BYTES + 1))
    with pytest.raises(TooLarge):
        StrictJSONParser().parse(
            stream, "application/json", {"request": SimpleNamespace(META={"CONTENT_LENGTH": stated})}
        )


def test_a_body_of_256_kib_is_read():
    body = b'"' + b"a" * (MOST_BYTES - 2) + b'"'
    assert len(StrictJSONParser().parse(io.BytesIO(body))) == MOST_BYTES - 2
