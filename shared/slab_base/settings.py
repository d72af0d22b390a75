"""Every setting of every process, read once from the environment and passed on as one frozen object."""

import logging
import os
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from slab_base.redact import redact
from slab_base.setting_fields import (
    SettingError,
    choice,
    describe,
    folder,
    number,
    postgres,
    read_field,
    text,
    url,
)

_log = logging.getLogger(__name__)

# The names that other software sets for the same two things.
BARE_NAMES = {"DATABASE_URL": "DATABASE_URL", "BROKER_URL": "BROKER_URL"}
PREFIX = "SLABWRIGHT_"
MIB = 1024 * 1024


@dataclass(frozen=True, kw_only=True, repr=False)
class Settings:
    """One attribute a setting; its variable is SLABWRIGHT_ and the attribute's name in capitals."""

    database_url: str | None = postgres("Postgres for the API and the work itself, as the application role.")
    queue_database_url: str | None = postgres(
        "Postgres for relay and claims, as the queue role, which sees no content."
    )
    migration_database_url: str | None = postgres(
        "Postgres for migrations, as the role that owns the tables."
    )
    direct_database_url: str | None = postgres(
        "Postgres past any pooler, for LISTEN and advisory locks; else the application URL is used."
    )
    broker_url: str | None = url(
        "Message broker: redis://, rediss:// or amqp://.", schemes=("redis", "rediss", "amqp", "amqps")
    )
    host: str = text("127.0.0.1", "Address the API listens on.")
    port: int = number(8000, "Port the API listens on.", least=1, greatest=65535)
    public_url: str | None = url(
        "Address that clients use, for absolute links; host and port are used when it is not set.",
        schemes=("http", "https"),
    )
    storage_dir: Path = folder(".local/storage", "Folder for uploaded and generated files.")
    numba_cache_dir: Path = folder(
        ".local/numba", "Writable folder for compiled kernels, checked when a worker starts."
    )
    lease_seconds: int = number(30, "How long a claimed step stays its worker's without renewal.", least=10)
    soft_limit_seconds: int = number(240, "A worker's task is asked to stop after this long.", least=1)
    hard_limit_seconds: int = number(300, "A worker's task is killed after this long.", least=2)
    visibility_timeout_seconds: int = number(
        3600, "The broker delivers an unacknowledged message again after this.", least=60
    )
    max_attempts: int = number(
        3, "A step that fails or kills its worker this often is parked with the reason.", least=1
    )
    sweep_seconds: int = number(2, "How often the sweeper looks for steps that nobody holds.", least=1)
    keep_answers_hours: int = number(
        72,
        "How long the answer to an Idempotency-Key is kept; later the key counts as new.",
        least=2,
    )
    engine: str = text("slab_app.work.engine:Engine", "What a worker computes with, as module:Class.")
    worker_processes: int = number(1, "Processes of one worker; each uses one core.", least=1, greatest=256)
    pool_size: int = number(10, "Database connections of one API process.", least=1)
    max_body_bytes: int = number(16 * MIB, "Largest request body, counted after decompression.", least=1024)
    max_chunk_bytes: int = number(8 * MIB, "Largest chunk of survey readings.", least=1024)
    max_scan_bytes: int = number(4096 * MIB, "Largest file of scanned points.", least=1024)
    max_json_depth: int = number(32, "Deepest nesting of a JSON body.", least=4, greatest=200)
    max_wait_seconds: int = number(
        60, "Longest time that `Prefer: wait` holds a request.", least=0, greatest=600
    )
    log_level: str = choice(
        "INFO", "Least severe level that is logged.", ("DEBUG", "INFO", "WARNING", "ERROR")
    )

    def __post_init__(self) -> None:
        """Refuse limits in an order under which a task could run twice or never end."""
        if not self.soft_limit_seconds < self.hard_limit_seconds < self.visibility_timeout_seconds:
            raise SettingError(
                f"{PREFIX}SOFT_LIMIT_SECONDS ({self.soft_limit_seconds}) must be less than "
                f"{PREFIX}HARD_LIMIT_SECONDS ({self.hard_limit_seconds}), and that less than "
                f"{PREFIX}VISIBILITY_TIMEOUT_SECONDS ({self.visibility_timeout_seconds})"
            )
        if self.lease_seconds >= self.visibility_timeout_seconds:
            raise SettingError(
                f"{PREFIX}LEASE_SECONDS ({self.lease_seconds}) must be less than "
                f"{PREFIX}VISIBILITY_TIMEOUT_SECONDS ({self.visibility_timeout_seconds})"
            )

    def __repr__(self) -> str:
        """All settings, with the passwords in URLs masked."""
        return (
            f"Settings({', '.join(f'{f.name}={redact(str(getattr(self, f.name)))}' for f in fields(self))})"
        )

    def need(self, name: str) -> str:
        """A setting that this process cannot do without. Raises SettingError when it is not set."""
        value: str | None = getattr(self, name)
        if value is None:
            raise SettingError(f"{PREFIX}{name.upper()} is not set, and this process needs it")
        return value

    def base_url(self) -> str:
        """The address that clients use, without a slash at the end."""
        return (self.public_url or f"http://{self.host}:{self.port}").rstrip("/")

    def listen_url(self) -> str:
        """The Postgres address for LISTEN and advisory locks."""
        return self.direct_database_url or self.need("database_url")


def load_settings(*, environ: Mapping[str, str] | None = None) -> Settings:
    """Read the settings from `environ` (the process environment unless given).

    Raises SettingError that names the variable and says what would be right. A SLABWRIGHT_ variable that no
    setting has is logged as a warning, since it may be misspelt; it is no error, as container platforms
    add variables named after services.
    """
    source = os.environ if environ is None else environ
    known = {PREFIX + field.name.upper(): field for field in fields(Settings)}
    for name in source:
        if name.startswith(PREFIX) and name not in known:
            _log.warning("%s is not a setting; the settings are %s", name, ", ".join(sorted(known)))
    values: dict[str, Any] = {}
    for name, field in known.items():
        found = _lookup(source, name)
        if found is not None:
            values[field.name] = read_field(field, name=found, raw=source[found])
    return Settings(**values)


def settings_table() -> str:
    """The table of all settings in Markdown, as it stands in DEVELOPERS.md."""
    rows = [f"| `{PREFIX}{f.name.upper()}` | {describe(f)} |" for f in fields(Settings)]
    return "\n".join(["| variable | default | meaning |", "|---|---|---|", *rows])


def _lookup(source: Mapping[str, str], name: str) -> str | None:
    """Which variable to read: the prefixed name, else the bare one; an empty value counts as not set."""
    bare = BARE_NAMES.get(name.removeprefix(PREFIX))
    return next((key for key in (name, bare) if key and source.get(key)), None)
