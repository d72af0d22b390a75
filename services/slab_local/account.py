"""As whom Postgres runs: it refuses to run as root, so root hands it to another account."""

import os
import pwd
import shutil
import subprocess
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from slab_local.errors import LocalServerError

NOBODY = "nobody"


@dataclass(frozen=True, kw_only=True)
class Account:
    """How to run a program: words before its command, arguments for subprocess, the owner of its files."""

    name: str
    prefix: tuple[str, ...] = ()
    arguments: Mapping[str, Any] = field(default_factory=dict)
    owner: tuple[int, int]

    def can(self, command: list[str | Path]) -> bool:
        """Whether this account can run a command to a good end."""
        try:
            done = subprocess.run(
                [*self.prefix, *map(str, command)],
                stdin=subprocess.DEVNULL,
                capture_output=True,
                cwd="/",
                check=False,
                timeout=30,
                **self.arguments,
            )
        except (OSError, subprocess.TimeoutExpired):
            return False
        return done.returncode == 0

    def give(self, path: Path) -> None:
        """Make this account the owner of a file, or of a folder with all that is in it."""
        if not path.exists() or path.stat().st_uid == self.owner[0]:
            return
        for folder, _, names in os.walk(path):
            os.chown(folder, *self.owner)
            for name in names:
                os.chown(Path(folder) / name, *self.owner, follow_symlinks=False)
        os.chown(path, *self.owner)


def choose_account(*, folder: Path, root: bool | None = None) -> Account:
    """The account for a server whose files are in `folder`, which exists.

    Not root: ourselves. Root: `nobody`, when that account can pass through all parent folders; else a user
    namespace in which we are called nobody. Raises LocalServerError when neither works.
    """
    if not (os.geteuid() == 0 if root is None else root):
        return Account(name="this user", owner=(os.geteuid(), os.getegid()))
    for account in filter(None, (_nobody(), _namespace())):
        if account.can(["/bin/sh", "-c", f'test -x "{folder}"']):
            return account
    raise LocalServerError(
        f"Postgres does not run as root, the account {NOBODY!r} cannot pass through to {folder}, and user "
        f"namespaces are not allowed here. Run this as another user, or name a data folder that others may "
        f"pass through, or set DATABASE_URL and its companions to a Postgres server of your own."
    )


def _nobody() -> Account | None:
    try:
        entry = pwd.getpwnam(NOBODY)
    except KeyError:
        return None
    ids = (entry.pw_uid, entry.pw_gid)
    return Account(name=NOBODY, arguments={"user": ids[0], "group": ids[1], "extra_groups": []}, owner=ids)


def _namespace() -> Account | None:
    """Inside it our own files, root's, belong to a user called nobody."""
    unshare = shutil.which("unshare")
    if unshare is None:
        return None
    prefix = (unshare, "--user", "--map-user=65534", "--map-group=65534", "--")
    return Account(name="a user namespace", prefix=prefix, owner=(0, 0))
