"""Children of the launcher: start with a log file, stop by signal, say what the log said last."""

import atexit
import os
import signal
import socket
import subprocess
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from slab_local.errors import LocalServerError
from slab_local.guard import Guard
from slab_local.interrupts import undisturbed

_guard: Guard | None = None


@dataclass(frozen=True, kw_only=True)
class Child:
    """A running process of ours, its log and the signal that stops it in good order."""

    name: str
    process: subprocess.Popen[bytes]
    log: Path
    stop_signal: signal.Signals

    def ended(self) -> bool:
        """Whether the process is no longer running."""
        return self.process.poll() is not None

    def failure(self) -> LocalServerError:
        """What to raise when this child ended by itself."""
        code = self.process.returncode
        return LocalServerError(
            f"{self.name} ended with code {code}; its log {self.log} ends with:\n{tail(log=self.log)}"
        )


def start(
    *,
    name: str,
    command: Sequence[str | Path],
    log: Path,
    env: Mapping[str, str],
    stop_signal: signal.Signals = signal.SIGTERM,
    cwd: Path = Path("/"),
    **account: Any,
) -> Child:
    """Start a child in a session of its own: Ctrl-C reaches the launcher alone, which ends the rest.

    `account` goes to subprocess (user, group, extra_groups). Raises LocalServerError when it cannot run.
    """
    log.parent.mkdir(parents=True, exist_ok=True)
    with log.open("ab") as out, undisturbed():
        try:
            process = subprocess.Popen(
                [str(part) for part in command],
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=subprocess.STDOUT,
                env=dict(env),
                cwd=cwd,
                start_new_session=True,
                **account,
            )
        except OSError as problem:
            raise LocalServerError(f"{name} cannot be started: {problem}") from problem
        guard().add(pid=process.pid, stop_signal=stop_signal)
    return Child(name=name, process=process, log=log, stop_signal=stop_signal)


def stop(child: Child, *, patience: float = 20.0, how: signal.Signals | None = None) -> None:
    """Stop a child, and kill it when that takes over `patience` seconds. Stopping twice does no harm.

    Its own children are killed if they are left then: a worker that is stopped while it starts its pool
    knows of no pool to stop.
    """
    if not child.ended():
        child.process.send_signal(how or child.stop_signal)
        with suppress(subprocess.TimeoutExpired):
            child.process.wait(patience)
        with suppress(ProcessLookupError):
            os.killpg(child.process.pid, signal.SIGKILL)
        child.process.wait()
    guard().drop(pid=child.process.pid)


def guard() -> Guard:
    """The one guarding process of this launcher, started with its first child."""
    global _guard
    if _guard is None:
        _guard = Guard()
        atexit.register(_guard.close)
    return _guard


def tail(*, log: Path, lines: int = 15) -> str:
    """The last lines of a log file."""
    try:
        return "\n".join(log.read_text(errors="replace").splitlines()[-lines:])
    except OSError as problem:
        return f"(no log: {problem})"


def free_port() -> int:
    """A port on the loopback address that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def own_environment(**more: str) -> dict[str, str]:
    """What a server needs from our environment and no more: no secret of ours reaches it."""
    kept = {name: value for name, value in os.environ.items() if name in ("PATH", "LANG", "TMPDIR", "TZ")}
    return {**kept, **more}
