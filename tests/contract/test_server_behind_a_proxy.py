"""The proxy of docker/haproxy.cfg before two instances on the loopback address: one is killed, both are renewed."""

import os
import re
import shutil
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import profiles
import pytest
import requests
from contract.attacks import asked
from contract.serving import Running, within

from ampstead_client import AmpsteadClient

CONFIGURATION = Path(__file__).resolve().parents[2] / "docker" / "haproxy.cfg"
PROXY = shutil.which("haproxy", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
WATTAGE = "/v1/wattage?cells=3&capacity=1150mAh"
MANY = 200
"""Questions before and after what happens."""
TRUSTING = {"AMPSTEAD_TRUSTED_HOPS": "1"}

pytestmark = pytest.mark.skipif(not PROXY and not profiles.FULL, reason="haproxy is not installed")


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as one:
        return int(one.getsockname()[1])


def instance(port: int) -> Running:
    return Running(workers=1, port=port, environment=TRUSTING)


class Pair:
    """Two instances, the proxy before them, and callers that never stop asking."""

    def __init__(self, place: Path) -> None:
        assert PROXY is not None, "install haproxy: CI has to have it"
        self.ports = [free_port(), free_port()]
        self.port = free_port()
        servers = [f"    server instance{port} 127.0.0.1:{port}" for port in self.ports]
        told = CONFIGURATION.read_text(encoding="utf-8").partition("\nresolvers names")[0]
        told, found = re.subn(r"^    server-template .*$", "\n".join(servers), told, flags=re.MULTILINE)
        assert found == 1
        told = told.replace("bind :8080", f"bind 127.0.0.1:{self.port}")
        file = place / "haproxy.cfg"
        file.write_text(told, encoding="utf-8")
        checked = subprocess.run([PROXY, "-c", "-f", file], capture_output=True, text=True, timeout=30)
        assert checked.returncode == 0, checked.stderr
        self.instances = [instance(port) for port in self.ports]
        self.proxy = subprocess.Popen([PROXY, "-db", "-f", file], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        self.base = f"http://127.0.0.1:{self.port}"
        assert within(20, lambda: self.status() == 200)

    def status(self, path: str = WATTAGE) -> int:
        with suppress(requests.RequestException):
            return requests.get(self.base + path, timeout=10).status_code
        return 0

    def renewed(self, which: int) -> None:
        """Stop an instance and start another at its place, as a rolling restart does."""
        assert self.instances[which].stopped() == 0
        self.start(which)

    def start(self, which: int) -> None:
        self.instances[which] = instance(self.ports[which])
        assert within(20, lambda: self.instances[which].raw(b"GET /readyz HTTP/1.0\r\n\r\n")[9:12] == b"200")
        time.sleep(1.5)  # the proxy sees that it is there again

    def killed(self, which: int) -> None:
        """End an instance as if its machine were gone: no process of it says goodbye."""
        for pid in (self.instances[which].process.pid, *self.instances[which].workers()):
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self.instances[which].killed()

    def end(self) -> None:
        self.proxy.terminate()
        self.proxy.wait(10)
        for one in self.instances:
            if one.process.poll() is None:
                one.stopped()

    def asked_meanwhile(self, happening: Callable[[], None]) -> tuple[list[int], list[Exception]]:
        """Statuses that callers without any retry got, and faults that callers with the client met, meanwhile."""
        over = threading.Event()
        statuses: list[int] = []
        faults: list[Exception] = []

        def plain() -> None:
            with requests.Session() as session:
                while not over.is_set():
                    question = {"json": {"cells": 3, "capacity": "1150 mAh"}}
                    for method, path, body in (("GET", WATTAGE, {}), ("POST", "/v1/wattage", question)):
                        try:
                            reply = session.request(method, self.base + path, timeout=15, **body)
                            statuses.append(reply.status_code)
                        except requests.RequestException:
                            statuses.append(0)

        def with_client() -> None:
            with AmpsteadClient(self.base) as client:
                while not over.is_set():
                    try:
                        assert client.wattage(cells=3, capacity="1150 mAh").calculator == "wattage"
                    except Exception as fault:
                        faults.append(fault)

        callers = [threading.Thread(target=target) for target in (plain, plain, plain, with_client, with_client)]
        for caller in callers:
            caller.start()
        try:
            assert within(30, lambda: len(statuses) > MANY)
            happening()
            assert within(30, lambda: len(statuses) > 2 * MANY)
        finally:
            over.set()
            for caller in callers:
                caller.join(30)
        return statuses, faults


@pytest.fixture(scope="module")
def pair_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pair]:
    made = Pair(tmp_path_factory.mktemp("proxy"))
    yield made
    made.end()


@pytest.fixture
def pair(pair_once: Pair) -> Pair:
    """Both instances in place, whatever an earlier test did to them."""
    for which, one in enumerate(pair_once.instances):
        if one.process.poll() is not None:
            pair_once.start(which)
    return pair_once


def test_an_instance_that_is_killed_costs_the_client_nothing_and_others_next_to_nothing(pair: Pair) -> None:
    statuses, faults = pair.asked_meanwhile(lambda: pair.killed(0))
    assert faults == []
    failed = sum(status != 200 for status in statuses)
    assert failed <= 0.01 * len(statuses)


def test_a_rolling_restart_loses_nothing(pair: Pair) -> None:
    def renewed() -> None:
        pair.renewed(0)
        pair.renewed(1)

    statuses, faults = pair.asked_meanwhile(renewed)
    assert faults == []
    assert set(statuses) == {200}


def test_the_proxy_tells_who_asks_and_keeps_the_counts_to_itself(pair: Pair) -> None:
    for written in ("/metrics", "/metrics/", "//metrics", "/%6detrics", "/%6Detric%73/", "/metrics?x=1"):
        assert asked(int(pair.base.rpartition(":")[2]), written)[0] == 404, written
    assert pair.status("/readyz") == 200
    reply = requests.get(pair.base + WATTAGE, headers={"X-Request-ID": "through-the-proxy"}, timeout=10)
    assert reply.headers["X-Request-ID"] == "through-the-proxy"


def test_without_any_instance_the_proxy_says_so_at_once(pair: Pair) -> None:
    pair.killed(0)
    pair.killed(1)
    begun = time.monotonic()
    assert pair.status() in (502, 503)
    assert time.monotonic() - begun < 10
