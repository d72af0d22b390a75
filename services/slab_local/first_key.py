"""A key to begin with: made on the first start with a database, kept beside the data for the next ones."""

import hashlib
from collections.abc import Callable, Mapping
from pathlib import Path
from urllib.parse import urlsplit

from slab_base.settings import load_settings
from slab_local.home import write_private

ORGANISATION = "First organisation"
Run = Callable[..., str]


def first_key(*, home: Path, environment: Mapping[str, str], run: Run) -> str:
    """The office key of the first organisation; `run` runs a module of ours and gives what it printed.

    A database keeps only a digest of a key, so the key is in a file that its owner alone can read.
    """
    path = home / f"first-key-{_mark(environment)}"
    if not path.exists():
        said = run("slab_app.organisation", "create", "--name", ORGANISATION)
        write_private(path=path, text=said.strip().splitlines()[-1])
    return path.read_text()


def _mark(environment: Mapping[str, str]) -> str:
    """Which database it is, whatever port it has today: a folder of data made anew has another password."""
    address = urlsplit(load_settings(environ=environment).need("database_url"))
    parts = (address.hostname, address.username, address.password, address.path)
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:12]
