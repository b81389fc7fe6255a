"""The production server as a process of its own on the loopback address."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

# The command as installed; limits may be shortened from outside, before the workers are made.
AS_INSTALLED = """
import sys
from ampstead import server
from ampstead.server import crew, wire, workers
{settings}
from ampstead.cli import main
sys.exit(main(["serve", "--port", "{port}"]))
"""
# The same with questions that take a minute of work, all memory or their worker's life, fail, or move the clock.
WITH_BAD_QUESTIONS = """
import os, time
from ampstead import server
from ampstead.server import crew, gate, wire, workers
{settings}
def application(guard):
    served = gate.application(guard)
    behind = served.behind
    def slowed(environ, start):
        if environ["PATH_INFO"] == "/slow":
            end = time.monotonic() + 60
            while time.monotonic() < end:
                sum(range(1000))
        if environ["QUERY_STRING"] == "held":
            sum(range(8_000_000))  # one step of the interpreter: no other thread runs meanwhile
        if environ["PATH_INFO"] == "/broken":
            raise RuntimeError("made to fail")
        if environ["PATH_INFO"] == "/greedy":
            bytearray(1 << 62)
        if environ["PATH_INFO"] == "/clock":
            by, real = float(environ["QUERY_STRING"]), time.time
            time.time = lambda: real() + by
        if environ["PATH_INFO"] == "/dead":
            os._exit(9)
        return behind(environ, start)
    served.behind = slowed
    return served
server.serve(port="{port}", application=application)
"""


def hurried(seconds: float) -> str:
    """A setting by which no answer may take longer than this."""
    return f"crew.LINES = {{name: line._replace(longest={seconds}) for name, line in crew.LINES.items()}}"


class Running:
    """A server process, the address it printed, and its workers."""

    def __init__(
        self,
        settings: str = "",
        *,
        workers: int = 2,
        script: str = AS_INSTALLED,
        log: Path | socket.socket | None = None,
        environment: Mapping[str, str] | None = None,
        port: int = 0,
    ) -> None:
        errors = log.open("wb") if isinstance(log, Path) else log
        self.process = subprocess.Popen(
            [sys.executable, "-c", script.format(settings=settings, port=port)],
            env={**os.environ, "HOST": "127.0.0.1", "AMPSTEAD_WORKERS": str(workers), **(environment or {})},
            stdout=subprocess.PIPE,
            stderr=errors or subprocess.DEVNULL,
            text=True,
        )
        if isinstance(log, Path) and errors:
            errors.close()
        assert self.process.stdout is not None
        self.greeting = [self.process.stdout.readline().strip() for _ in range(4)]
        self.base = self.greeting[1].partition("/v1/")[0]
        self.port = int(self.base.rpartition(":")[2])
        self.raw(b"GET /healthz HTTP/1.0\r\n\r\n")

    def workers(self) -> list[int]:
        told = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text(encoding="ascii")
        return [int(pid) for pid in told.split()]

    def memory(self) -> int:
        """Bytes that the workers hold in memory."""
        pages = (int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1]) for pid in self.workers())
        return sum(pages) * os.sysconf("SC_PAGE_SIZE")

    def worked(self) -> float:
        """Seconds of processor time that the workers have taken."""
        ticks = 0
        for pid in self.workers():
            fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
            ticks += int(fields[11]) + int(fields[12])
        return ticks / os.sysconf("SC_CLK_TCK")

    def stopped(self, patience: float = 12.0) -> int:
        """Its exit status after being told to stop."""
        self.process.send_signal(signal.SIGTERM)
        try:
            return self.process.wait(patience)
        finally:
            self.killed()

    def killed(self) -> None:
        self.process.kill()
        self.process.wait()
        if self.process.stdout is not None:
            self.process.stdout.close()

    def raw(self, sent: bytes) -> bytes:
        with socket.create_connection(("127.0.0.1", self.port), timeout=15) as connection:
            with suppress(OSError):
                connection.sendall(sent)
            return received(connection)


def received(connection: socket.socket) -> bytes:
    """All that comes until the server closes the connection."""
    answer = b""
    while part := connection.recv(65536):
        answer += part
    return answer


def within(seconds: float, holds: object) -> bool:
    """Whether something comes true in that time."""
    assert callable(holds)
    end = time.monotonic() + seconds
    while not holds():
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True
