"""A whole back end of its own to hurt: Postgres, broker, two workers and two relays."""

import os
import random
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import psutil
from valkey import Valkey
from valkey.exceptions import ValkeyError

from slab_local.postgres import EmbeddedPostgres
from slab_local.valkey import EmbeddedValkey
from tests.support.crew import Crew, crew_of, kill_family
from tests.support.databases import copied_database, migrated_template
from tests.support.servers import throwaway_folder

WORKERS = 2
RELAYS = 2


@dataclass(kw_only=True)
class House:
    """The parts, and one method for each way to hurt them. All come back by themselves or at once."""

    crew: Crew
    postgres: EmbeddedPostgres
    valkey: EmbeddedValkey
    rng: random.Random
    workers: list[subprocess.Popen[bytes]]
    relays: list[subprocess.Popen[bytes]]

    def kill_child(self) -> None:
        """A pool child dies in the middle of whatever it does."""
        with suppress(psutil.NoSuchProcess, IndexError):
            children = psutil.Process(self.rng.choice(self.workers).pid).children()
            self.rng.choice(children).kill()

    def kill_worker(self) -> None:
        """A worker dies with its children; another takes its place."""
        place = self.rng.randrange(WORKERS)
        kill_family(self.workers[place])
        self.workers[place] = self.crew.start_worker()

    def end_worker(self) -> None:
        """A worker is asked to end; another takes its place at once."""
        place = self.rng.randrange(WORKERS)
        self.workers[place].send_signal(signal.SIGTERM)
        self.workers[place] = self.crew.start_worker()

    def kill_relay(self) -> None:
        """A relay dies, maybe between publishing and marking; another takes its place."""
        place = self.rng.randrange(RELAYS)
        self.relays[place].kill()
        self.relays[place].wait()
        self.relays[place] = self.crew.start_relay()

    def flush_broker(self) -> None:
        """The broker forgets everything."""
        with suppress(ValkeyError):
            self.broker.flushall()

    def triple_messages(self) -> None:
        """Every message that waits is delivered three times."""
        with suppress(ValkeyError):
            for message in self.broker.lrange("slabwright.light", 0, -1):
                self.broker.rpush("slabwright.light", message, message)

    def stop_broker(self) -> None:
        """The broker is killed and stays away for some seconds."""
        os.kill(self.valkey.pid, signal.SIGKILL)
        time.sleep(self.rng.uniform(1, 4))
        self.valkey.stop()
        self.valkey.start()

    def freeze_child(self) -> None:
        """A pool child stands still past its lease and then goes on."""
        with suppress(psutil.NoSuchProcess, IndexError):
            child = self.rng.choice(psutil.Process(self.rng.choice(self.workers).pid).children())
            child.suspend()
            time.sleep(13)
            child.resume()

    def restart_postgres(self) -> None:
        """Postgres ends at once, as in a crash, and starts again."""
        self.postgres.stop(how=signal.SIGQUIT)
        self.postgres.start()

    @property
    def broker(self) -> Valkey:
        """A client of the broker."""
        return self.crew.broker


@contextmanager
def house_of(*, seed: int) -> Iterator[House]:
    """A running back end with everything in a folder that is thrown away."""
    with throwaway_folder() as folder:
        # Durable: an acknowledged run must survive the crash of Postgres.
        postgres = EmbeddedPostgres(folder=folder / "postgres", durable=True)
        valkey = EmbeddedValkey(folder=folder / "valkey")
        postgres.start()
        valkey.start()
        try:
            yield from _furnished(postgres, valkey, folder, seed)
        finally:
            valkey.stop()
            postgres.stop()


def _furnished(
    postgres: EmbeddedPostgres, valkey: EmbeddedValkey, folder: Path, seed: int
) -> Iterator[House]:
    logs = folder / "logs"
    logs.mkdir()
    url = postgres.superuser_url
    with (
        migrated_template(superuser_url=url) as template,
        copied_database(superuser_url=url, template=template) as fresh,
        crew_of(fresh=fresh, broker_url=valkey.url, folder=logs) as crew,
    ):
        yield House(
            crew=crew,
            postgres=postgres,
            valkey=valkey,
            rng=random.Random(seed),
            workers=[crew.start_worker() for _ in range(WORKERS)],
            relays=[crew.start_relay() for _ in range(RELAYS)],
        )
