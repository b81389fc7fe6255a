"""Who may ask the production server, how much, and what it believes of a stranger's words."""

import asyncio
import os
import re
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import requests
from contract.serving import Running, within
from fakeredis import TcpFakeServer

from ampstead.errors import Problem
from ampstead.server import guard as guarding
from ampstead.server.gate import Gate
from ampstead.server.guard import Guard
from ampstead.server.settings import NAMES, NotServed, Settings
from ampstead.server.tally import PLACES, Tally

WATTAGE = "/v1/wattage?cells=3&capacity=1150mAh"
HERE = {"wsgi.url_scheme": "http", "SERVER_NAME": "192.0.2.7", "SERVER_PORT": "8080", "REMOTE_ADDR": "192.0.2.1"}


@contextmanager
def serving(log: Path | None = None, **environment: str) -> Iterator[Running]:
    server = Running(workers=1, log=log, environment=environment)
    try:
        yield server
    finally:
        assert server.stopped() == 0


def bearer(key: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {key}"}


def test_with_keys_only_those_who_have_one_are_answered_and_no_key_is_written_down(tmp_path: Path) -> None:
    keys, log = tmp_path / "keys", tmp_path / "log"
    keys.write_text("# the meadow club\nred-trainer-9b1f  the field box\n\nblue-aerobat-77c2\n", encoding="utf-8")
    with serving(log, AMPSTEAD_KEYS_FILE=str(keys), AMPSTEAD_ACCESS_LOG="queries") as server:
        for headers, wrong in (({}, ""), (bearer("nobody"), "invalid_token"), ({"Authorization": "Basic eDp5"}, "")):
            reply = requests.get(server.base + WATTAGE, headers=headers, timeout=10)
            assert (reply.status_code, reply.json()["status"]) == (401, 401)
            assert reply.headers["WWW-Authenticate"].startswith('Bearer realm="ampstead"')
            assert ("invalid_token" in reply.headers["WWW-Authenticate"]) is bool(wrong)
        for key in ("red-trainer-9b1f", "blue-aerobat-77c2"):
            assert requests.get(server.base + WATTAGE, headers=bearer(key), timeout=10).status_code == 200
        for path in ("/v1/wattage.txt", "/v1/wattage/batch", "/openapi.json", "/metrics", "/", "/v1/nothing"):
            assert requests.get(server.base + path, timeout=10).status_code == 401, path
        for path in ("/healthz", "/readyz"):
            assert requests.get(server.base + path, timeout=10).status_code == 200
        # Another key, without a new start.
        keys.write_text("grey-tug-30ee\n", encoding="utf-8")
        assert within(
            10,
            lambda: requests.get(server.base + WATTAGE, headers=bearer("grey-tug-30ee"), timeout=10).status_code == 200,
        )
        assert requests.get(server.base + WATTAGE, headers=bearer("red-trainer-9b1f"), timeout=10).status_code == 401
        # A file that is gone locks nobody out, and lets nobody in.
        keys.unlink()
        assert within(10, lambda: tried(server) and "file of keys" in log.read_text(encoding="ascii"))
        assert requests.get(server.base + WATTAGE, headers=bearer("nobody"), timeout=10).status_code == 401
    written = log.read_text(encoding="ascii")
    assert not any(key in written for key in ("9b1f", "77c2", "30ee"))


def test_a_browser_that_asks_whether_it_may_ask_needs_no_key(tmp_path: Path) -> None:
    keys = tmp_path / "keys"
    keys.write_text("red-trainer-9b1f\n", encoding="utf-8")
    origin = {"Origin": "http://meadow.example"}
    with serving(AMPSTEAD_KEYS_FILE=str(keys)) as server:
        address = f"{server.base}/v1/wattage"
        wish = origin | {"Access-Control-Request-Method": "POST", "Access-Control-Request-Headers": "authorization"}
        asked = requests.options(address, headers=wish, timeout=20)
        assert (asked.status_code, asked.headers["Access-Control-Allow-Origin"]) == (204, "*")
        assert "authorization" in asked.headers["Access-Control-Allow-Headers"].lower()
        assert requests.options(address, headers=origin, timeout=20).status_code == 401
        refused = requests.get(address, headers=origin, timeout=20)
        assert (refused.status_code, refused.headers["Access-Control-Allow-Origin"]) == (401, "*")


def tried(server: Running) -> bool:
    return requests.get(server.base + WATTAGE, headers=bearer("grey-tug-30ee"), timeout=10).status_code == 200


def test_every_key_is_compared_in_constant_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "keys"
    file.write_text("one-key\ntwo-key\nthree-key\n", encoding="utf-8")
    keys = guarding.Keys(file)
    compared: list[int] = []
    really = guarding.hmac.compare_digest

    def counted(one: bytes, other: bytes) -> bool:
        compared.append(len(one) - len(other))
        return really(one, other)

    monkeypatch.setattr(guarding.hmac, "compare_digest", counted)
    assert keys.known("one-key")
    assert not keys.known("a" * 10_000)
    assert compared == [0] * 6


def test_a_client_that_asks_too_much_is_told_when_to_come_again() -> None:
    with serving(AMPSTEAD_LIMIT="5 per hour") as server:
        replies = [requests.get(server.base + WATTAGE, timeout=10) for _ in range(7)]
        assert [reply.status_code for reply in replies] == [200] * 5 + [429] * 2
        assert 1 <= int(replies[-1].headers["Retry-After"]) <= 3600
        assert replies[-1].json()["type"] == "urn:ampstead:problem:too-many"
        assert replies[-1].json()["detail"] == "That is more than 5 requests per hour: ask again later."
        assert requests.get(server.base + "/healthz", timeout=10).status_code == 200
        # The header of a stranger makes nobody another client.
        claimed = requests.get(server.base + WATTAGE, headers={"X-Forwarded-For": "198.51.100.4"}, timeout=10)
        assert claimed.status_code == 429


def test_behind_a_trusted_proxy_each_of_its_clients_is_counted() -> None:
    with serving(AMPSTEAD_LIMIT="2 per hour", AMPSTEAD_TRUSTED_HOPS="1") as server:

        def asked(forwarded: str) -> int:
            reply = requests.get(server.base + WATTAGE, headers={"X-Forwarded-For": forwarded}, timeout=10)
            return reply.status_code

        assert [asked("198.51.100.4") for _ in range(3)] == [200, 200, 429]
        assert asked("198.51.100.5") == 200
        # What the client itself put in stands further left.
        assert asked("203.0.113.9, 198.51.100.4") == 429
        # What comes behind a body is no header: a proxy passes it on unseen.
        hidden = b"POST /v1/wattage HTTP/1.1\r\nHost: a\r\nConnection: close\r\nX-Forwarded-For: 198.51.100.4\r\n"
        hidden += b"Transfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\nX-Forwarded-For: 198.51.100.7\r\n\r\n"
        assert server.raw(hidden).startswith(b"HTTP/1.1 429 ")
        # A household's whole network is one client.
        assert [asked(f"2001:db8:1:2::{n}") for n in (1, 2, 3)] == [200, 200, 429]
        assert asked("2001:db8:1:3::1") == 200


def test_a_client_has_one_limit_however_many_workers_answer_it() -> None:
    server = Running(workers=4, environment={"AMPSTEAD_LIMIT": "20 per hour"})
    try:
        assert within(20, lambda: len(server.workers()) == 4)
        alone = {"Connection": "close"}  # each time it may be another worker that answers
        replies = [requests.get(server.base + WATTAGE, headers=alone, timeout=15).status_code for _ in range(60)]
        assert (replies.count(200), replies.count(429)) == (20, 40)
        for worker in server.workers():
            os.kill(worker, signal.SIGKILL)
        assert within(20, lambda: len(server.workers()) == 4)
        assert within(20, lambda: server.raw(b"GET /healthz HTTP/1.0\r\n\r\n").startswith(b"HTTP/1.1 200"))
        assert requests.get(server.base + WATTAGE, headers=alone, timeout=15).status_code == 429
    finally:
        assert server.stopped() == 0


def test_a_tally_begins_anew_when_its_time_is_over_or_the_clock_is_put_back(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [1000.0]
    monkeypatch.setattr("ampstead.server.tally.time.time", lambda: now[0])
    kept = Tally()
    assert [kept.incr("a", 60) for _ in range(3)] == [1, 2, 3]
    assert (kept.get("a"), kept.get_expiry("a"), kept.get("b"), kept.incr("b", 60)) == (3, 1060.0, 0, 1)
    now[0] = 1060.5
    assert (kept.get("a"), kept.incr("a", 60), kept.get_expiry("a")) == (0, 1, 1120.5)
    now[0] = 7.0
    assert kept.incr("a", 60) == 1
    kept.clear("a")
    assert (kept.get("a"), kept.get("b")) == (0, 1)


def test_a_flood_of_clients_takes_no_more_memory_and_does_not_free_one_that_asked_much() -> None:
    kept = Tally()
    flooder = [kept.incr("flooder", 3600) for _ in range(500)][-1]
    for number in range(2 * PLACES):
        kept.incr(f"stranger {number}", 3600)
    assert kept.incr("flooder", 3600) == flooder + 1
    assert kept.clients.nbytes + kept.ends.nbytes + kept.counts.nbytes < 2e6


@pytest.mark.parametrize(
    ("address", "client"),
    [
        ("192.0.2.1", "192.0.2.1"),
        ("::ffff:192.0.2.1", "192.0.2.1"),  # over a socket of both kinds
        ("::ffff:127.0.0.1", "127.0.0.1"),
        ("fe80::1%eth0", "fe80::1"),  # within one network
        ('fe80::1%eth0"', "fe80::1"),
        ("2001:DB8:0::1", "2001:db8::1"),
        ("", ""),
    ],
)
def test_a_client_is_known_by_its_plain_address(address: str, client: str) -> None:
    assert Guard(Settings()).client({"REMOTE_ADDR": address}) == client
    if address:
        told = {"REMOTE_ADDR": "192.0.2.9", "HTTP_X_FORWARDED_FOR": f"203.0.113.9, {address}"}
        assert Guard(Settings(hops=1)).client(told) == client


@pytest.fixture
def store() -> Iterator[str]:
    server = TcpFakeServer(("127.0.0.1", 0), server_type="redis")
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"redis://127.0.0.1:{server.server_address[1]}/0"
    server.shutdown()
    server.server_close()


async def passed(guard: Guard, client: str = "192.0.2.1") -> int:
    """The status by which a guard refuses a client; 0 where it does not."""
    try:
        await guard.passed("/v1/sag", client, {})
    except Problem as fault:
        return fault.status if int(fault.headers["Retry-After"]) >= 1 else -1
    return 0


def test_instances_that_share_a_store_share_the_limit(store: str) -> None:
    instances = [Guard(Settings(limit="4 per hour", limit_store=store)) for _ in range(2)]

    async def asked() -> list[int]:
        told = [await passed(instances[n % 2]) for n in range(6)] + [await passed(instances[0], "192.0.2.2")]
        for instance in instances:
            assert instance.elsewhere is not None
            await instance.elsewhere.storage.bridge.storage.aclose()
        return told

    assert asyncio.run(asked()) == [0, 0, 0, 0, 429, 429, 0]


def test_a_store_that_is_gone_takes_nothing_with_it(caplog: pytest.LogCaptureFixture) -> None:
    guard = Guard(Settings(limit="1 per hour", limit_store="redis://:secret@127.0.0.1:9/0"))

    async def asked() -> list[int]:
        return [await passed(guard) for _ in range(4)]

    assert asyncio.run(asked()) == [0] * 4
    assert len([record for record in caplog.records if "store" in record.message]) == 1
    assert "secret" not in caplog.text


def test_by_default_a_club_behind_one_address_is_not_limited_and_a_flood_is() -> None:
    guard = Guard(Settings())

    async def asked(count: int, client: str) -> int:
        refused = 0
        for _ in range(count):
            try:
                await guard.passed("/v1/sag", client, {})
            except Problem:
                refused += 1
        return refused

    assert asyncio.run(asked(50 * 60, "192.0.2.1")) == 0  # fifty members, one question a second for a minute
    assert asyncio.run(asked(20_000, "192.0.2.2")) > 5_000
    assert asyncio.run(asked(20_000, "127.0.0.1")) == 0  # this machine's own, or a proxy on it


@pytest.mark.parametrize(
    ("settings", "said", "place"),
    [
        (Settings(), {}, ("http", "192.0.2.7:8080")),
        (Settings(), {"HTTP_X_FORWARDED_HOST": "evil.example", "HTTP_X_FORWARDED_PROTO": "https"}, None),
        (Settings(public_url="https://packs.example.org"), {}, ("https", "packs.example.org")),
        (
            Settings(hops=1),
            {"HTTP_X_FORWARDED_HOST": "packs.example.org", "HTTP_X_FORWARDED_PROTO": "https"},
            ("https", "packs.example.org"),
        ),
        (Settings(hops=1), {"HTTP_X_FORWARDED_HOST": "a b<script>", "HTTP_X_FORWARDED_PROTO": "javascript"}, None),
    ],
)
def test_the_service_knows_its_place_from_its_operator_alone(
    settings: Settings, said: dict[str, str], place: tuple[str, str] | None
) -> None:
    asked: dict[str, Any] = {**HERE, **said, "HTTP_HOST": "evil.example"}
    assert Guard(settings).place(asked) == (place or ("http", "192.0.2.7:8080"))


def test_no_host_that_a_stranger_names_comes_back_and_every_reply_is_made_safe() -> None:
    with serving(AMPSTEAD_PUBLIC_URL="https://packs.example.org") as server:
        for path in (
            "/",
            "/v1/",
            "/v1",
            "/openapi.json",
            WATTAGE,
            "//evil.example/",
            "/v1/nothing",
            "/v1/sag",
            "/docs",
        ):
            reply = requests.get(
                server.base + path,
                headers={"Host": "evil.example", "X-Forwarded-Host": "evil.example"},
                timeout=10,
                allow_redirects=False,
            )
            told = f"{reply.text} {reply.headers}".replace("at /evil.example", "")
            assert path.startswith("//") or "evil.example" not in told
            assert "evil" not in reply.headers.get("Location", "")
            assert reply.headers["X-Content-Type-Options"] == "nosniff"
            assert "frame-ancestors" in reply.headers["Content-Security-Policy"]
            assert reply.headers["Referrer-Policy"]
            assert reply.headers["Strict-Transport-Security"].startswith("max-age=")
            assert "Server" not in reply.headers


def test_a_page_keeps_the_policy_that_it_names_itself() -> None:
    gate = Gate.__new__(Gate)
    gate.safe = [(b"content-security-policy", b"default-src 'none'"), (b"referrer-policy", b"no-referrer")]
    told = gate.completed([(b"content-security-policy", b"script-src 'self'")], "id")
    assert [value for name, value in told if name == b"content-security-policy"] == [b"script-src 'self'"]
    assert (b"referrer-policy", b"no-referrer") in told


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("AMPSTEAD_TRUSTED_HOPS", "-1"),
        ("AMPSTEAD_TRUSTED_HOPS", "all"),
        ("AMPSTEAD_LIMIT", "many"),
        ("AMPSTEAD_LIMIT", "0 per minute"),
        ("AMPSTEAD_LIMIT", "5 per 2 minutes"),
        ("AMPSTEAD_LIMIT_STORE", "memcached://a"),
        ("AMPSTEAD_PUBLIC_URL", "packs.example.org"),
        ("AMPSTEAD_PUBLIC_URL", "https://packs.example.org/under"),
        ("AMPSTEAD_PUBLIC_URL", "https://[packs"),
        ("AMPSTEAD_PUBLIC_URL", "https://packs.example.org:port"),
        ("AMPSTEAD_ACCESS_LOG", "everything"),
    ],
)
def test_a_wrong_setting_is_told_by_its_name(name: str, value: str) -> None:
    with pytest.raises(NotServed) as told:
        Settings.of({name: value})
    assert name in str(told.value)
    assert str(told.value).count(".") >= 1


@pytest.mark.parametrize(
    ("name", "meant"),
    [("KEY_FILE", "KEYS_FILE"), ("KEYS", "KEYS_FILE"), ("LIMITS", "LIMIT"), ("RATE_LIMIT", "LIMIT"), ("LOG", None)],
)
def test_a_setting_that_is_misspelt_is_told_with_the_one_that_is_meant(name: str, meant: str | None) -> None:
    if meant is None:
        Settings.of({f"AMPSTEAD_{name}": "1"})
        return
    with pytest.raises(NotServed, match=rf"^AMPSTEAD_{name} is no setting; did you mean AMPSTEAD_{meant}\? "):
        Settings.of({f"AMPSTEAD_{name}": "1"})


def test_every_setting_that_the_readme_names_is_spelt_as_here_and_no_cluster_s_own_is_taken_for_one() -> None:
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
    assert set(re.findall(r"^\| `AMPSTEAD_([A-Z_]+)`", readme, re.MULTILINE)) == set(NAMES)
    # A cluster tells each pod where the services of its namespace are; `KEY` is the client's.
    told = ("SERVICE_HOST", "SERVICE_PORT", "SERVICE_PORT_HTTP", "PORT", "PORT_80_TCP", "PORT_80_TCP_ADDR", "KEY")
    assert Settings.of({f"AMPSTEAD_{name}": "1" for name in told}) == Settings.of({})


@pytest.mark.parametrize("kind", ["absent", "empty", "only remarks", "a folder"])
def test_a_file_without_keys_is_told_before_it_serves(kind: str, tmp_path: Path) -> None:
    file = tmp_path / "keys"
    if kind == "a folder":
        file.mkdir()
    elif kind != "absent":
        file.write_text("" if kind == "empty" else "# none\n\n", encoding="utf-8")
    with pytest.raises(NotServed, match="AMPSTEAD_KEYS_FILE"):
        Guard(Settings(keys_file=file))


def test_settings_are_read_with_their_blanks_and_their_ways_of_writing() -> None:
    told = Settings.of({"AMPSTEAD_LIMIT": " 100/Minute ", "AMPSTEAD_PUBLIC_URL": "https://packs.example.org/"})
    assert (told.limit, told.public_url) == ("100 per minute", "https://packs.example.org")
    assert Settings.of({"AMPSTEAD_LIMIT": "off"}).limit == "off"
    assert Guard(Settings(limit="off")).limit is None
