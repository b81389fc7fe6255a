"""The curve or table behind an answer, from the text that carries it."""

from __future__ import annotations

import sys
import types
from typing import Any

import pytest

from ampstead_client import Table, Unreadable
from ampstead_client.table import read_table

ADDRESS = "http://packs.example/v1/sag.csv"


def read(text: str) -> Table:
    return read_table(text.encode(), address=ADDRESS)


def test_columns_units_and_rows_are_told_apart() -> None:
    table = read('time [min],loss per day [mV/day],name,holds,rate\n0,-1.5,"a, ""b""",true,\n1e1,2,c,false,0.5\n')
    assert table.columns == ("time", "loss per day", "name", "holds", "rate")
    assert table.units == ("min", "mV/day", None, None, None)
    assert table.rows == ((0.0, -1.5, 'a, "b"', True, None), (10.0, 2.0, "c", False, 0.5))
    assert table.to_dict() == {
        "time": [0.0, 10.0],
        "loss per day": [-1.5, 2.0],
        "name": ['a, "b"', "c"],
        "holds": [True, False],
        "rate": [None, 0.5],
    }


def test_a_name_over_two_lines_stays_in_its_cell() -> None:
    assert read('name,power [W]\r\n"red\u2028\ntrainer",45\r\n').rows == (("red\u2028\ntrainer", 45.0),)


def test_a_table_may_have_no_rows() -> None:
    table = read("time [min],voltage [V]\n")
    assert (len(table), table.rows, table.to_dict()) == (0, (), {"time": [], "voltage": []})


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\n",
        "<html>Please log in to meadow guest wireless</html>\n<p>now, please</p>",
        "time [min],voltage [V]\n0,12\n1",
        "time [min],voltage [V]\n0,12,13\n",
        "time [min],voltage [V]\n0,high\n",
        "time [min],voltage [V]\n0,nan\n",
        "time [min],voltage [V]\n0,1_0\n",
        "time [min],voltage [V]\n0,1e999\n",
        "time [min],time [s]\n0,1\n",
        "time [min],\n0,1\n",
        'time [min],"voltage [V]\n0,1\n',
        "time [min],voltage [V]\n0,\x00\n",
    ],
)
def test_text_that_is_no_table_is_unreadable(text: str) -> None:
    with pytest.raises(Unreadable, match=r"POST http://packs\.example/v1/sag\.csv: the answer is not the table"):
        read(text)


def test_bytes_that_are_no_text_are_unreadable() -> None:
    with pytest.raises(Unreadable, match="not the table"):
        read_table(b"\xff\xfe\x00time", address=ADDRESS)


def test_a_frame_is_made_by_pandas_where_it_is_installed(monkeypatch: pytest.MonkeyPatch) -> None:
    class Frame:
        def __init__(self, data: Any, columns: Any) -> None:
            self.data, self.columns, self.attrs = data, columns, dict[str, Any]()

    monkeypatch.setitem(sys.modules, "pandas", types.SimpleNamespace(DataFrame=Frame))
    frame = read("time [min],rate\n0,1\n").to_frame()
    assert frame.data == {"time": [0.0], "rate": [1.0]}
    assert frame.columns == ["time", "rate"]
    assert frame.attrs["units"] == {"time": "min", "rate": None}


def test_without_pandas_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(ImportError, match="pip install pandas"):
        read("time [min]\n0\n").to_frame()
