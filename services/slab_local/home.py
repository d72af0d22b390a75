"""The folder of an embedded server: who holds it now, and the passwords that are kept in it."""

import fcntl
import json
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def locked(*, folder: Path) -> Iterator[None]:
    """Let one launcher at a time start or stop the server of this folder; others wait."""
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / "lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def kept_password(*, folder: Path, name: str) -> str:
    """The password of this name, made on first use; the file is readable by its owner alone."""
    path = folder / "passwords.json"
    known: dict[str, str] = json.loads(path.read_text()) if path.exists() else {}
    if name not in known:
        known[name] = secrets.token_urlsafe(24)
        write_private(path=path, text=json.dumps(known, indent=1))
    return known[name]


def write_private(*, path: Path, text: str) -> None:
    """Write a file of mode 0600 in one step: others can read it at no moment, and it is never half there."""
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    part.unlink(missing_ok=True)
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)
