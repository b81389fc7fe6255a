"""Which server carries the service: each candidate measured, then attacked, on the loopback address.

``python tests/bench/bench_server.py`` prints the tables that DEVELOPERS.md shows; words after it choose candidates by
their names. The candidates are not needed otherwise: ``pip install waitress granian a2wsgi``. It takes some minutes,
and each attack is bounded in count and time. The service's own server runs as installed, with its longest waits kept;
whoever "stays down" has not answered for 10 seconds after the attack ended.
"""

import os
import re
import selectors
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import suppress
from http.client import HTTPException
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from contract.attacks import ATTACKS, QUICK, asked, slowest_quick_question

BINDING = "import socket; s = socket.create_server(('127.0.0.1', {port}), backlog=1024)"
WAITRESS = "from waitress import serve; serve(app, sockets=[s], threads=8)"
APPLICATION = """
import sys, time
sys.setswitchinterval(0.001)
from ampstead.app import create_app
inner = create_app()
def app(environ, start_response):
    if environ["PATH_INFO"] == "/slow":
        end = time.thread_time() + 1.0
        while time.thread_time() < end:
            sum(range(1000))
        start_response("200 OK", [("Content-Length", "0")])
        return [b""]
    return inner(environ, start_response)
"""
AS_ASGI = "from a2wsgi import WSGIMiddleware; from served import app as inner; app = WSGIMiddleware(inner, workers=32)"
PYTHON, BESIDE = sys.executable, Path(sys.executable).parent


def script(*lines: str) -> list[str]:
    return [PYTHON, "-c", "\n".join(lines)]


def command(line: str) -> list[str]:
    name, *words = line.split()
    return [str(BESIDE / name), *words]


CANDIDATES = {
    "waitress, 8 threads": script("from served import app", BINDING, WAITRESS),
    "waitress, 2 processes of 8": script("import os; from served import app", BINDING, "os.fork()", WAITRESS),
    "gunicorn gthread, 2 of 8": command(
        "gunicorn -w 2 --threads 8 -k gthread --log-level critical -b 127.0.0.1:{port} served:app"
    ),
    "granian, 2 of 64": command(
        "granian --interface wsgi --workers 2 --blocking-threads 64 --no-log --port {port} served:app"
    ),
    "uvicorn and a2wsgi, 2 of 32": command(
        "uvicorn --workers 2 --http httptools --no-access-log --log-level critical --port {port} served_asgi:app"
    ),
    "this service's": script(
        "from ampstead.server import serve",
        "from ampstead.server.gate import Gate",
        "def load(guard):",
        "    from served import app, inner",
        "    return Gate(app, guard, inner.extensions['counts'])",
        "serve('127.0.0.1', '{port}', load)",
    ),
}


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as one:
        return int(one.getsockname()[1])


def processes(first: int) -> list[int]:
    found = [first]
    for pid in found:
        with suppress(OSError):
            found += map(int, Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split())
    return found


def worked(pids: list[int]) -> float:
    """Seconds of processor time of some processes."""
    ticks = 0
    for pid in pids:
        with suppress(OSError):
            fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
            ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def memory(pids: list[int]) -> float:
    """MB of some processes, what they share counted once."""
    told = 0
    for pid in pids:
        with suppress(OSError):
            text = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii")
            told += sum(map(int, re.findall(r"^Pss: +(\d+)", text, re.MULTILINE)))
    return told / 1024


def load(port: int, seconds: float, connections: int = 16) -> tuple[int, float]:
    """Questions answered over kept connections, and the seconds that took."""
    question = f"GET {QUICK.replace('.txt', '')} HTTP/1.1\r\nHost: a\r\n\r\n".encode()
    many, left, count = selectors.DefaultSelector(), {}, 0
    with socket.create_connection(("127.0.0.1", port), timeout=10) as one:
        one.sendall(question)
        time.sleep(1.0)
        reply = one.recv(1 << 20)
    if not reply.startswith(b"HTTP/1.1 200 "):
        raise SystemExit(f"the question is not answered: {reply[:200]!r}")
    size = len(reply)
    for _ in range(connections):
        one = socket.create_connection(("127.0.0.1", port), timeout=10)
        many.register(one, selectors.EVENT_READ)
        left[one] = size
        one.sendall(question)
    begun = time.monotonic()
    while time.monotonic() - begun < seconds:
        for key, _ in many.select(1.0):
            one = key.fileobj
            left[one] -= len(one.recv(1 << 16))
            if left[one] <= 0:
                left[one] = size
                count += 1
                one.sendall(question)
    took = time.monotonic() - begun
    for one in left:
        one.close()
    return count, took


def outcome(port: int, path: str) -> str:
    try:
        return str(asked(port, path, 30.0)[0])
    except (OSError, HTTPException):
        return "none"


def answering(port: int, patience: float) -> bool:
    end = time.monotonic() + patience
    while time.monotonic() < end:
        with suppress(OSError, HTTPException):
            if asked(port, patience=2.0)[0] == 200:
                return True
        time.sleep(0.05)
    return False


def beside_slow(port: int, seconds: float = 5.0) -> list[float]:
    """How long quick questions take, one after the other, while eight slow ones are always in flight."""
    stop = threading.Event()

    def ask() -> None:
        while not stop.is_set():
            outcome(port, "/slow")

    askers = [threading.Thread(target=ask) for _ in range(8)]
    for asker in askers:
        asker.start()
    time.sleep(0.3)
    took, end = [], time.monotonic() + seconds
    while time.monotonic() < end:
        begun = time.monotonic()
        with suppress(OSError, HTTPException):
            asked(port, patience=20.0)
        took.append(time.monotonic() - begun)
    stop.set()
    for asker in askers:
        asker.join()
    return took


def stopping(server: subprocess.Popen[bytes], port: int) -> str:
    """What four slow questions in flight are told when the server is told to stop."""
    told: list[str] = []
    askers = [threading.Thread(target=lambda: told.append(outcome(port, "/slow"))) for _ in range(4)]
    for asker in askers:
        asker.start()
    time.sleep(0.5)
    server.send_signal(signal.SIGTERM)
    begun = time.monotonic()
    with suppress(subprocess.TimeoutExpired):
        server.wait(20)
    took = time.monotonic() - begun
    for asker in askers:
        asker.join()
    return f"{took:.1f} s: {' '.join(sorted(told))}"


def started(name: str, folder: Path) -> tuple[subprocess.Popen[bytes], int]:
    port = free_port()
    words = [word.replace("{port}", str(port)) for word in CANDIDATES[name]]
    server = subprocess.Popen(
        words,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(folder), "OPENBLAS_NUM_THREADS": "1", "AMPSTEAD_WORKERS": "2"},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    if not answering(port, 60):
        raise SystemExit(f"{name} does not start")
    return server, port


def ended(server: subprocess.Popen[bytes]) -> None:
    for pid in processes(server.pid):
        with suppress(OSError):
            os.kill(pid, signal.SIGKILL)
    server.wait()


def measured(name: str, folder: Path) -> str:
    server, port = started(name, folder)
    start = worked(processes(server.pid))
    load(port, 1.0)
    pids = processes(server.pid)
    before = worked(pids)
    count, took = load(port, 5.0)
    each, held = (worked(pids) - before) / count, memory(pids)
    slow = beside_slow(port)
    row = (
        f"| {name} | {count / took:,.0f} | {1000 * each:.2f} | {1000 * statistics.median(slow):.0f}"
        f" | {1000 * max(slow):.0f} | {held:.0f} | {start:.1f} | {stopping(server, port)} |"
    )
    ended(server)
    return row


def attacked(name: str, folder: Path) -> list[str]:
    """Seconds of the slowest quick question under each attack."""
    cells = []
    for attack in ATTACKS.values():
        server, port = started(name, folder)
        slowest = slowest_quick_question(port, attack, 2.0)
        down = "" if answering(port, 10) else ", stays down"
        cells.append(("none" if slowest == float("inf") else f"{slowest:.2f}") + down)
        ended(server)
    return cells


def main(wanted: list[str]) -> None:
    names = [name for name in CANDIDATES if not wanted or any(word in name for word in wanted)]
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        (folder / "served.py").write_text(APPLICATION, encoding="utf-8")
        (folder / "served_asgi.py").write_text(AS_ASGI, encoding="utf-8")
        print("| | requests/s | ms of CPU each | beside 8 slow: median ms | longest ms | MB | CPU s to start | stop |")
        print("| --- | --- | --- | --- | --- | --- | --- | --- |")
        for name in names:
            print(measured(name, folder), flush=True)
        columns = {}
        for name in names:
            columns[name] = attacked(name, folder)
            print(name, columns[name], file=sys.stderr, flush=True)
        print("\n| attack | " + " | ".join(names) + " |\n| --- |" + " --- |" * len(names))
        for place, attack in enumerate(ATTACKS):
            print(f"| {attack} | " + " | ".join(columns[name][place] for name in names) + " |")


if __name__ == "__main__":
    main(sys.argv[1:])
