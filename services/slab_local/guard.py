"""Stops the launcher's children when the launcher itself is killed.

One small process for each launcher. It listens to a pipe of which the launcher holds the other end: a line
`add PID SIGNAL` or `drop PID` for each child that starts or ends. When the pipe closes the launcher is gone,
however that happened; every child still on the list is then stopped, the last one started first. A signal set
in the children themselves (PR_SET_PDEATHSIG) would do on Linux alone, and not after a change of user.

Only the standard library is imported, since this runs beside every launcher.
"""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterable
from pathlib import Path

PATIENCE_SECONDS = 20.0


class Guard:
    """The launcher's side: tells the guarding process of children that start and end."""

    def __init__(self) -> None:
        """Start the guarding process in a session of its own, so that Ctrl-C does not reach it."""
        reader, self._writer = os.pipe()
        with os.fdopen(reader) as pipe:
            command = [sys.executable, "-I", str(Path(__file__).resolve())]
            self._process = subprocess.Popen(command, stdin=pipe, start_new_session=True, cwd="/")

    def add(self, *, pid: int, stop_signal: signal.Signals) -> None:
        """Stop `pid` with this signal when the launcher dies."""
        os.write(self._writer, f"add {pid} {int(stop_signal)}\n".encode())

    def drop(self, *, pid: int) -> None:
        """Forget a child that has ended: its number may be given to another process."""
        os.write(self._writer, f"drop {pid}\n".encode())

    def close(self) -> None:
        """End the guarding process; children still on its list are stopped."""
        os.close(self._writer)
        self._process.wait()


def watch(lines: Iterable[str]) -> dict[int, int]:
    """Follow the launcher's lines to their end; returns the children left, each with its signal."""
    children: dict[int, int] = {}
    for line in lines:
        verb, pid, *rest = line.split()
        if verb == "add":
            children[int(pid)] = int(rest[0])
        else:
            children.pop(int(pid), None)
    return children


def stop(*, pid: int, stop_signal: int, patience: float = PATIENCE_SECONDS) -> None:
    """Ask a process that is nobody's child here to stop, and kill it when it does not."""
    for wanted in (stop_signal, signal.SIGKILL):
        try:
            os.kill(pid, wanted) if wanted == stop_signal else os.killpg(pid, wanted)
        except ProcessLookupError:
            return
        end = time.monotonic() + patience
        while time.monotonic() < end:
            if not alive(pid=pid):
                return
            time.sleep(0.05)


def alive(*, pid: int) -> bool:
    """Whether a process runs; one that has ended and was not waited for does not count."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return Path("/proc/self").exists() is False


if __name__ == "__main__":
    for child, how in reversed(watch(sys.stdin).items()):
        stop(pid=child, stop_signal=how)
