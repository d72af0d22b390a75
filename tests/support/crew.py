"""Real worker and relay processes for tests, with the toy engine, and ways to hurt them."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from uuid import UUID

import psutil
import psycopg
from valkey import Valkey

from tests.support.databases import FreshDatabase
from tests.support.effects import Effects, read_effects, watch_effects
from tests.support.kernels import KERNELS
from tests.support.runs import Firm, found_firm, open_database

ROOT = Path(__file__).parents[2]


@dataclass(kw_only=True)
class Crew:
    """Processes of one test, its firm and its broker. Started processes are killed at the end."""

    firm: Firm
    fresh: FreshDatabase
    broker_url: str
    folder: Path
    settings: dict[str, str]
    processes: list[subprocess.Popen[bytes]] = field(default_factory=list)

    @property
    def broker(self) -> Valkey:
        """A client of the broker."""
        return Valkey.from_url(self.broker_url)

    def start_worker(self, *, processes: int = 1) -> subprocess.Popen[bytes]:
        """A worker; it is ready when it has claimed or `wait_for_children` says so."""
        return self._start("slab_worker", {"SLABWRIGHT_WORKER_PROCESSES": str(processes)})

    def start_relay(self) -> subprocess.Popen[bytes]:
        """A relay with its sweeper."""
        return self._start("slab_worker.relay", {})

    def log(self) -> str:
        """What all processes have written."""
        return "".join(path.read_text() for path in sorted(self.folder.glob("*.log")))

    def effects(self) -> Effects:
        """What happened to runs and steps so far."""
        return read_effects(owner_url=self.fresh.migration_url)

    def wait_for_runs(self, ids: list[UUID], *, seconds: float) -> None:
        """Wait until all these runs are over."""
        wait_until(lambda: all(self.firm.run(i).is_over for i in ids), seconds=seconds, crew=self)

    def wait_for_claim(self, run_id: UUID, *, stage: str, seconds: float = 20) -> str:
        """Wait until a step is at work; the number of the process that holds it."""
        wait_until(lambda: self._holder(run_id, stage) is not None, seconds=seconds, crew=self)
        holder = self._holder(run_id, stage)
        assert holder is not None
        return holder

    def stop(self) -> None:
        """Kill whatever still runs."""
        for process in self.processes:
            for child in _family(process):
                child.kill()
            process.kill()
            process.wait()
        self.firm.database.close()

    def _holder(self, run_id: UUID, stage: str) -> str | None:
        with psycopg.connect(self.fresh.migration_url) as owner:
            row = owner.execute(
                "SELECT split_part(worker, '/', 3) FROM run_steps"
                " WHERE run = %s AND stage = %s AND state = 'claimed'",
                (run_id, stage),
            ).fetchone()
        return row[0] if row else None

    def _start(self, module: str, more: dict[str, str]) -> subprocess.Popen[bytes]:
        log = self.folder / f"{len(self.processes)}-{module}.log"
        with log.open("wb") as out:
            process = subprocess.Popen(
                [sys.executable, "-m", module],
                env={**os.environ, **self.fresh.environment(), **self.settings, **more},
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=subprocess.STDOUT,
                cwd=ROOT,
                start_new_session=True,
            )
        self.processes.append(process)
        return process


@contextmanager
def crew_of(*, fresh: FreshDatabase, broker_url: str, folder: Path, **settings: str) -> Iterator[Crew]:
    """A crew without processes yet, on an emptied broker."""
    watch_effects(owner_url=fresh.migration_url)
    Valkey.from_url(broker_url).flushdb()
    crew = Crew(
        firm=found_firm(open_database(fresh)),
        fresh=fresh,
        broker_url=broker_url,
        folder=folder,
        settings={
            "SLABWRIGHT_BROKER_URL": broker_url,
            "SLABWRIGHT_ENGINE": "tests.support.toy_engine:ToyEngine",
            "SLABWRIGHT_NUMBA_CACHE_DIR": str(KERNELS),
            "SLABWRIGHT_LEASE_SECONDS": "10",
            "SLABWRIGHT_SWEEP_SECONDS": "1",
            "PYTHONPATH": str(ROOT),
            **settings,
        },
    )
    try:
        yield crew
    finally:
        crew.stop()


def wait_until(ready: Callable[[], bool], *, seconds: float, crew: Crew) -> None:
    """Wait for something; fail with the end of the logs when it does not come."""
    end = time.monotonic() + seconds
    while not ready():
        if time.monotonic() > end:
            raise AssertionError(f"waited {seconds} s in vain; the logs end with:\n{crew.log()[-3000:]}")
        time.sleep(0.02)


def kill(pid: int | str) -> None:
    """As the kernel does when memory runs out."""
    os.kill(int(pid), signal.SIGKILL)


def kill_family(process: subprocess.Popen[bytes]) -> None:
    """Kill a worker and its children at once, as when a machine is lost."""
    for child in _family(process):
        child.kill()
    process.kill()
    process.wait()


def _family(process: subprocess.Popen[bytes]) -> list[psutil.Process]:
    try:
        return list(psutil.Process(process.pid).children(recursive=True))
    except psutil.NoSuchProcess:
        return []
