"""What breaks around the production server: workers, memory, the clock, the disk, the network, callers who leave."""

import os
import shutil
import signal
import socket
import struct
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import profiles
import pytest
import requests
from contract.serving import WITH_BAD_QUESTIONS, Running, within

WATTAGE = "/v1/wattage?cells=3&capacity=1150mAh"


@pytest.fixture(scope="module")
def faulty() -> Iterator[Running]:
    server = Running(workers=2, script=WITH_BAD_QUESTIONS)
    assert within(20, lambda: len(server.workers()) == 2)  # the first answers before the second is there
    yield server
    assert server.stopped() == 0


def answered(server: Running, times: int = 1) -> bool:
    """Whether a plain question is answered, on a connection of its own each time."""
    replies = [
        requests.get(server.base + WATTAGE, headers={"Connection": "close"}, timeout=15).status_code
        for _ in range(times)
    ]
    return set(replies) == {200}


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSEGV, signal.SIGTERM, signal.SIGINT])
def test_a_worker_that_is_ended_by_a_signal_is_replaced(number: signal.Signals, faulty: Running) -> None:
    assert within(15, lambda: len(faulty.workers()) == 2)
    lost = faulty.workers()[0]
    os.kill(lost, number)
    assert within(15, lambda: lost not in faulty.workers() and len(faulty.workers()) == 2)
    assert answered(faulty, 10)


def test_a_question_that_wants_more_memory_than_there_is_fails_alone(faulty: Running) -> None:
    before = faulty.workers()
    reply = requests.get(faulty.base + "/greedy", timeout=15)
    assert (reply.status_code, reply.json()["status"]) == (500, 500)
    assert answered(faulty, 4)
    assert faulty.workers() == before


@pytest.mark.parametrize("by", ["-1000000000", "1000000000"])
def test_a_clock_that_jumps_ends_nothing_and_delays_nothing(by: str, faulty: Running) -> None:
    before = faulty.workers()
    for _ in range(4):
        requests.get(f"{faulty.base}/clock?{by}", headers={"Connection": "close"}, timeout=15)
    with requests.Session() as kept:
        assert all(kept.get(faulty.base + WATTAGE, timeout=15).status_code == 200 for _ in range(10))
    assert answered(faulty, 4)
    assert faulty.workers() == before


def test_callers_who_leave_in_the_middle_of_an_answer_cost_nothing(faulty: Running) -> None:
    before = faulty.workers()
    for _ in range(60):
        connection = socket.create_connection(("127.0.0.1", faulty.port), timeout=15)
        connection.sendall(b"GET /openapi.json HTTP/1.1\r\nHost: a\r\n\r\n")
        connection.recv(100)
        # Closed with a reset, as by a proxy that was cut off.
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        connection.close()
    assert answered(faulty, 4)
    assert faulty.workers() == before


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no full disk to write to")
def test_a_full_disk_under_the_log_stops_nothing() -> None:
    server = Running(workers=1, script=WITH_BAD_QUESTIONS, log=Path("/dev/full"))
    try:
        assert answered(server, 3)
        assert requests.get(server.base + "/broken", timeout=15).status_code == 500
        assert answered(server, 3)
    finally:
        assert server.stopped() == 0


def test_it_needs_no_disk_to_write_to_no_home_and_no_network(tmp_path: Path) -> None:
    nowhere = str(tmp_path / "nowhere")
    server = Running(
        workers=1,
        environment={"TMPDIR": nowhere, "HOME": nowhere, "XDG_CACHE_HOME": nowhere, "PYTHONDONTWRITEBYTECODE": "1"},
    )
    try:
        assert answered(server)
        assert requests.get(server.base + "/v1/charge-current.png?cells=3&capacity=1150mAh", timeout=15).ok
    finally:
        assert server.stopped() == 0
    assert not Path(nowhere).exists()


def test_a_store_of_limits_whose_name_is_gone_holds_nobody_up() -> None:
    server = Running(
        workers=1, environment={"AMPSTEAD_LIMIT_STORE": "redis://store.invalid:6379/0", "AMPSTEAD_LIMIT": "1 per hour"}
    )
    try:
        assert answered(server, 5)
    finally:
        assert server.stopped() == 0


@pytest.mark.parametrize(
    ("python", "cure"),
    [
        (sys.executable, "connect this machine to a package index, then run the same command again."),
        ("false", "install it, or name one as in  PYTHON=python3.12 sh service/run."),
    ],
)
def test_set_up_that_cannot_be_done_ends_with_its_cure(python: str, cure: str, tmp_path: Path) -> None:
    top = Path(__file__).resolve().parents[2]
    shutil.copytree(top / "service", tmp_path / "service", ignore=shutil.ignore_patterns("ampstead*"))
    shutil.copytree(top / "client", tmp_path / "client", ignore=shutil.ignore_patterns("ampstead*"))
    shutil.copy(top / "pyproject.toml", tmp_path)
    nowhere = {"PIP_INDEX_URL": "http://127.0.0.1:9/", "PIP_CONFIG_FILE": os.devnull, "PIP_NO_CACHE_DIR": "1"}
    ran = subprocess.run(
        ["sh", "service/run"],
        cwd=tmp_path,
        env={"PATH": "/usr/bin:/bin", "HOME": str(tmp_path), "PYTHON": python, **nowhere},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert (ran.returncode, ran.stdout) == (1, "")
    assert ran.stderr.rstrip("\n").rpartition("\n")[2].endswith(cure)


def test_mixed_traffic_leaves_no_fault_and_no_growth() -> None:
    """The soak of tests/bench, for some seconds; by hand it goes on for an hour."""
    script = Path(__file__).resolve().parents[1] / "bench" / "soak.py"
    seconds = str(profiles.count(5, 20))
    command = [sys.executable, script, "--seconds", seconds, "--callers", "4", "--growth", "25"]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=200)
    assert ran.returncode == 0, ran.stdout + ran.stderr
