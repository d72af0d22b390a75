"""Where the launcher keeps its files."""

import hashlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from slab_local.account import choose_account
from slab_local.errors import LocalServerError

SYSTEM = Path("/var/lib/slabwright")


def kept_home(*, project: Path) -> Path:
    """The folder of kept data: `.local` in the project, or a system folder where Postgres cannot run there.

    Only root needs the second: Postgres does not run as root, and another account cannot enter a closed home.
    """
    home = project.absolute() / ".local"
    home.mkdir(parents=True, exist_ok=True)
    try:
        choose_account(folder=home)
    except LocalServerError:
        mark = hashlib.sha256(str(project.absolute()).encode()).hexdigest()[:12]
        home = SYSTEM / mark
        home.mkdir(parents=True, exist_ok=True)
    return home


def keep_kernels(*, project: Path) -> None:
    """Have parts that are started from here keep compiled kernels in the project, unless a setting says
    where: they are worth keeping even where everything else is thrown away."""
    os.environ.setdefault("SLABWRIGHT_NUMBA_CACHE_DIR", str(project / ".cache" / "numba"))


@contextmanager
def throwaway_home() -> Iterator[Path]:
    """A folder that is removed at the end; other accounts can pass through it."""
    home = Path(tempfile.mkdtemp(prefix="slabwright-"))
    home.chmod(0o711)
    try:
        yield home
    finally:
        shutil.rmtree(home, ignore_errors=True)
