"""The examples that apps copy from, run as they stand: the script, the web app, the notebook and the spreadsheet."""

from __future__ import annotations

import csv
import importlib.util
import io
import json
import os
import re
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote
from urllib.request import urlopen
from xml.etree import ElementTree

import pytest
from werkzeug.serving import make_server

from ampstead.app import create_app

TOP = Path(__file__).resolve().parents[2]
EXAMPLES = TOP / "client" / "examples"
PRINTED = "http://127.0.0.1:8080"


@pytest.fixture(scope="module")
def base_url() -> Iterator[str]:
    server = make_server("127.0.0.1", 0, create_app(), threaded=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join(5)
    server.server_close()


def ran(*arguments: str, **settings: Any) -> str:
    ended = subprocess.run(
        [sys.executable, "-W", "error", *arguments], capture_output=True, text=True, timeout=100, **settings
    )
    assert ended.returncode == 0, ended.stderr
    return ended.stdout


def test_the_readme_names_every_example() -> None:
    told = (TOP / "client" / "README.md").read_text(encoding="utf-8").partition("## Examples")[2]
    files = {entry.name for entry in EXAMPLES.iterdir() if entry.is_file()}
    assert set(re.findall(r"\(examples/([^)]+)\)", told)) == files


def test_the_script_of_ten_lines_tells_the_charge_and_its_cautions(base_url: str) -> None:
    script = EXAMPLES / "bench_evening.py"
    code = script.read_text(encoding="utf-8").rpartition('"""\n')[2].strip().splitlines()
    assert len([line for line in code if line and not line.startswith(("import ", "from "))]) <= 10
    sentence, busy, *cautions = ran(str(script), base_url).splitlines()
    assert re.match(r"Charge this lithium-polymer pack at [0-9.]+ amperes, up to 12.6 volts", sentence)
    assert re.fullmatch(r"Bench busy for [0-9]+ min at most\.", busy)
    assert cautions
    assert all(line.startswith(("danger: ", "warning: ", "note: ")) for line in cautions)


class TestTheWebApp:
    @pytest.fixture
    def http(self) -> Any:
        found = importlib.util.spec_from_file_location("club_board", EXAMPLES / "club_board.py")
        assert found is not None
        assert found.loader is not None
        module = importlib.util.module_from_spec(found)
        found.loader.exec_module(module)
        return module.app.test_client()

    def test_shows_every_pack_with_its_charge_and_its_curve(self, http: Any) -> None:
        page = http.get("/").get_data(as_text=True)
        pictures = re.findall(r'src="(/[^"]+\.svg)"', page)
        assert len(pictures) == page.count("<section>") == 3
        assert page.count("Charge this lithium-polymer pack at") >= 3
        assert "Never leave a charging pack alone." in page
        for picture in pictures:
            reply = http.get(picture)
            assert reply.mimetype == "image/svg+xml"
            assert ElementTree.fromstring(reply.data).tag.endswith("svg")
        assert http.get("/green-racer.svg").status_code == 404

    def test_tells_a_visitor_the_answer_or_what_to_mend(self, http: Any) -> None:
        fine = http.get("/sag?cells=4&capacity=3700mAh&cell_resistance=4.2mohm&current=48A")
        assert fine.status_code == 200
        assert fine.json["sentence"].startswith("Under 48 amperes")
        bare = http.get("/sag?cells=4&capacity=3700&current=48A")
        assert bare.status_code == 422
        assert bare.json["errors"] == ['capacity needs a unit: write "3700 mAh"']
        odd = http.get("/sag?cels=4")
        assert odd.status_code == 422
        assert "cels" in odd.json["errors"][0]


def test_the_notebook_runs_from_its_first_cell_to_its_last(tmp_path: Path) -> None:
    notebook = json.loads((EXAMPLES / "sweep.ipynb").read_text(encoding="utf-8"))
    cells = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
    assert all(not cell["outputs"] and cell["execution_count"] is None for cell in cells)
    program = "\n\n".join("".join(cell["source"]) for cell in cells)
    program += """
import json
lines = [axes.lines[0] for axes in (pyplot.figure(number).axes[0] for number in pyplot.get_fignums())]
print(json.dumps([[list(map(float, line.get_xdata())), list(map(float, line.get_ydata()))] for line in lines]))
"""
    # Written out by hand so that warnings are errors of the cells alone, and not of the drawing library's own start.
    env = {**os.environ, "MPLBACKEND": "Agg", "MPLCONFIGDIR": str(tmp_path)}
    ended = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=100, env=env, cwd=tmp_path
    )
    assert ended.returncode == 0, ended.stderr
    *said, drawn = ended.stdout.splitlines()
    assert said[0].startswith("Under 48 amperes")
    (currents, voltages), (times, curve) = json.loads(drawn)
    assert currents == sorted(currents)
    assert voltages == sorted(voltages, reverse=True)
    at_48 = voltages[currents.index(48)]
    assert curve[-1] == pytest.approx(at_48, abs=0.02)
    assert times == sorted(times)


class TestTheSpreadsheet:
    RECIPE = (EXAMPLES / "spreadsheet.md").read_text(encoding="utf-8")
    FORMULAS = re.findall(r"^```\n=(.*)\n```", RECIPE, re.MULTILINE)
    COMMANDS = re.findall(r"^```sh\n(.*)\n```", RECIPE, re.MULTILINE)
    SHEET = tuple(csv.reader(io.StringIO((EXAMPLES / "packs.csv").read_text(encoding="utf-8"))))

    def address(self, formula: str, base_url: str) -> str:
        """What the formula's parts join to, as a spreadsheet reckons it."""
        inner = formula.removeprefix("WEBSERVICE(").removesuffix(")") if formula.startswith("WEB") else formula
        parts = re.findall(r'"([^"]*)"|ENCODEURL\(([A-Z])([0-9]+)\)|\$?([A-Z])\$?([0-9]+)', inner)
        joined = ""
        for text, coded, coded_row, plain, plain_row in parts:
            if text:
                joined += text
            elif plain == "H":
                joined += base_url
            else:
                cell = self.SHEET[int(coded_row or plain_row) - 1][ord(coded or plain) - ord("A")]
                joined += quote(cell, safe="") if coded else cell
        return joined

    def test_a_cell_shows_the_sentence_of_its_pack(self, base_url: str) -> None:
        sentence, _ = self.FORMULAS
        with urlopen(self.address(sentence, base_url), timeout=20) as reply:
            assert reply.read().decode().startswith("Charge this lithium-polymer pack at 1.1 amperes")

    def test_an_address_opens_as_a_table_with_units_in_its_headings(self, base_url: str) -> None:
        _, curve = self.FORMULAS
        with urlopen(self.address(curve, base_url), timeout=20) as reply:
            assert reply.headers.get_content_type() == "text/csv"
            heads, *rows = csv.reader(io.StringIO(reply.read().decode()))
        told = re.findall(r"`(\w+ \[\w+\])`", self.RECIPE)
        assert told
        assert set(told) <= set(heads)
        assert float(rows[-1][0]) > 0

    @pytest.mark.parametrize("command", COMMANDS)
    def test_the_whole_box_comes_back_with_its_results(self, command: str, base_url: str) -> None:
        console = str(Path(sys.executable).parent / "ampstead")
        ended = subprocess.run(
            command.replace(PRINTED, base_url).replace("ampstead ask", f"{console} ask"),
            shell=True,
            cwd=EXAMPLES,
            capture_output=True,
            text=True,
            timeout=100,
            check=True,
        )
        rows = list(csv.DictReader(io.StringIO(ended.stdout)))
        assert [row["pack"] for row in rows] == [row[0] for row in self.SHEET[1:]]
        assert all(float(row["answer.current [A]"]) > 0 and not row["problem"] for row in rows)
