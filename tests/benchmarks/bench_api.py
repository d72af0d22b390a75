"""The API alone: runs posted, lists read, columns uploaded; it has one core, Postgres and client the other.

No general-purpose peer has these routes. There is no worker: runs are posted and stay. Postgres is a
throw-away one that does not wait for the disk, so these are figures of processors, not of disks.
"""

import asyncio
import json
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any
from uuid import uuid4

import httpx
import nanoarrow
import numpy as np
from nanoarrow.ipc import StreamWriter

from slab_api.bodies.arrow import read_columns
from slab_api.bodies.documents import read_document
from slab_api.bodies.read import ARROW
from slab_api.intake.chunks import chunk_from_json
from slab_api.schemas.surveys import ReadingsDocument, SurveyCreate
from slab_api.schemas.units import UnitsDocument
from slab_local.processes import free_port
from tests.benchmarks.measure import Figure, measures
from tests.support.api import valid_job
from tests.support.databases import FreshDatabase, copied_database, migrated_template
from tests.support.records import job_record
from tests.support.servers import running_postgres

CONNECTIONS = 16
SECONDS = 8.0
WARM_UP_SECONDS = 2.0
ROWS = 100_000
ROUNDS = 20


@dataclass(frozen=True, kw_only=True)
class _Api:
    """A running API process on its own core, and the key of its only firm."""

    port: int
    key: str
    http: httpx.Client

    def request(self, method: str, path: str, body: bytes = b"", **headers: str) -> bytes:
        """A whole HTTP/1.1 request by hand: a client library would take more of the core than Postgres."""
        names = {"host": "bench", "authorization": f"Bearer {self.key}", "content-length": str(len(body))}
        lines = [f"{name.replace('_', '-')}: {value}" for name, value in {**names, **headers}.items()]
        head = "\r\n".join((f"{method} {path} HTTP/1.1", *lines, "", ""))
        return head.encode() + body

    def make(self, path: str, document: Any) -> Any:
        """POST a record."""
        answer = self.http.post(path, json=document, headers={"idempotency-key": str(uuid4())})
        answer.raise_for_status()
        return answer.json()


@dataclass(kw_only=True)
class _Tally:
    """What one load did: seconds of each request, and how long all of them took."""

    spent: list[float] = field(default_factory=list)
    whole: float = 0.0

    def rate(self) -> float:
        return len(self.spent) / self.whole

    def p99_ms(self) -> float:
        return 1000 * float(np.quantile(self.spent, 0.99))


@measures("api.submit_per_s", "api.submit_p99_ms")
def bench_submit() -> list[Figure]:
    """Whole small jobs posted inline, each with a new Idempotency-Key, on 16 connections."""
    body = json.dumps(valid_job()).encode()
    with _api() as api:

        def post() -> bytes:
            return api.request(
                "POST",
                "/v1/estimates",
                body,
                content_type="application/json",
                idempotency_key=str(uuid4()),
            )

        tally = asyncio.run(_load(api, post, wanted=b"202"))
    return [
        _figure("api.submit_per_s", tally.rate(), "1/s", len(tally.spent)),
        _figure("api.submit_p99_ms", tally.p99_ms(), "ms", len(tally.spent)),
    ]


@measures("api.list1000_per_s")
def bench_list() -> list[Figure]:
    """Pages of the usual size (50) from a list of 1,000 jobs, on 16 connections."""
    with _api() as api:
        for _ in range(1000):
            api.make("/v1/jobs", job_record())
        tally = asyncio.run(_load(api, lambda: api.request("GET", "/v1/jobs"), wanted=b"200"))
    return [_figure("api.list1000_per_s", tally.rate(), "1/s", len(tally.spent))]


@measures("api.arrow_parse_ms", "api.json_columns_ms")
def bench_parse() -> list[Figure]:
    """100,000 readings from the bytes of a body to arrays: Arrow columns, and a whole checked JSON chunk."""
    arrow, text = _arrow(seed=1), _json(seed=1)
    survey, units = SurveyCreate(), UnitsDocument(length="m")

    def from_json() -> None:
        columns = read_document(ReadingsDocument, text, deepest=32)
        chunk_from_json(columns, survey=survey, units=units)

    return [
        _figure("api.arrow_parse_ms", _median_ms(lambda: read_columns(arrow)), "ms", ROUNDS),
        _figure("api.json_columns_ms", _median_ms(from_json), "ms", ROUNDS),
    ]


@measures("api.arrow_store_ms", "api.livez_p99_ms")
def bench_upload() -> list[Figure]:
    """100,000 readings as one Arrow chunk, from the first byte sent to the answer; and /livez meanwhile."""
    with _api() as api:
        job = api.make("/v1/jobs", job_record())["id"]
        survey = api.make(f"/v1/jobs/{job}/surveys", {"units": {"length": "m"}})["id"]
        spent = [_upload(api, survey, number) for number in range(1, ROUNDS + 1)]
        live = asyncio.run(_live_during(api, survey))
    return [
        _figure("api.arrow_store_ms", 1000 * statistics.median(spent), "ms", len(spent)),
        _figure("api.livez_p99_ms", live.p99_ms(), "ms", len(live.spent)),
    ]


def _upload(api: _Api, survey: str, number: int) -> float:
    body = _arrow(seed=number)
    started = time.perf_counter()
    answer = api.http.put(
        f"/v1/surveys/{survey}/chunks/{number}", content=body, headers={"content-type": ARROW}
    )
    spent = time.perf_counter() - started
    answer.raise_for_status()
    return spent


async def _live_during(api: _Api, survey: str) -> _Tally:
    """/livez asked again and again while chunks of both kinds arrive on another connection."""
    uploads = [
        api.request("PUT", f"/v1/surveys/{survey}/chunks/{number}", body, content_type=kind)
        for number in range(1001, 1001 + ROUNDS)
        for body, kind in [_either(number)]
    ]
    uploading = asyncio.create_task(_send_all(api, uploads))
    tally = _Tally()
    reader, writer = await asyncio.open_connection("127.0.0.1", api.port)
    while not uploading.done():
        started = time.perf_counter()
        await _exchange(reader, writer, api.request("GET", "/livez"), wanted=b"200")
        tally.spent.append(time.perf_counter() - started)
        await asyncio.sleep(0.001)
    writer.close()
    await uploading
    return tally


def _either(number: int) -> tuple[bytes, str]:
    return (_arrow(seed=number), ARROW) if number % 2 else (_json(seed=number), "application/json")


async def _send_all(api: _Api, requests: Sequence[bytes]) -> None:
    reader, writer = await asyncio.open_connection("127.0.0.1", api.port)
    for request in requests:
        await _exchange(reader, writer, request, wanted=b"200")
    writer.close()


async def _load(api: _Api, request: Callable[[], bytes], *, wanted: bytes) -> _Tally:
    """Requests on all connections at once for some seconds, the first of them not counted."""
    await _for_seconds(api, request, wanted=wanted, seconds=WARM_UP_SECONDS)
    return await _for_seconds(api, request, wanted=wanted, seconds=SECONDS)


async def _for_seconds(api: _Api, request: Callable[[], bytes], *, wanted: bytes, seconds: float) -> _Tally:
    tally = _Tally()
    started = time.perf_counter()

    async def one_connection() -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", api.port)
        while time.perf_counter() - started < seconds:
            sent = time.perf_counter()
            await _exchange(reader, writer, request(), wanted=wanted)
            tally.spent.append(time.perf_counter() - sent)
        writer.close()

    await asyncio.gather(*(one_connection() for _ in range(CONNECTIONS)))
    tally.whole = time.perf_counter() - started
    return tally


async def _exchange(
    reader: asyncio.StreamReader, writer: asyncio.StreamWriter, request: bytes, *, wanted: bytes
) -> None:
    writer.write(request)
    await writer.drain()
    head = await reader.readuntil(b"\r\n\r\n")
    length = int(head.lower().partition(b"content-length: ")[2].partition(b"\r\n")[0])
    body = await reader.readexactly(length)
    if head.split(b" ", 2)[1] != wanted:
        raise RuntimeError(f"the API answered {head[:40]!r} {body[:300]!r}")


@contextmanager
def _api() -> Iterator[_Api]:
    """An API with a database of its own; this process and Postgres keep to another core if there is one."""
    cores = sorted(os.sched_getaffinity(0))
    os.sched_setaffinity(0, set(cores[1:]) or set(cores))
    try:
        with (
            running_postgres() as server,
            migrated_template(superuser_url=server) as template,
            copied_database(superuser_url=server, template=template) as urls,
            _process(urls, core=cores[0]) as api,
        ):
            yield api
    finally:
        os.sched_setaffinity(0, cores)


@contextmanager
def _process(urls: FreshDatabase, *, core: int) -> Iterator[_Api]:
    port = free_port()
    environment = {**os.environ, **urls.environment(), "SLABWRIGHT_PORT": str(port)}
    create = [sys.executable, "-m", "slab_app.organisation", "create", "--name", "Bench"]
    key = subprocess.run(create, env=environment, capture_output=True, text=True, check=True).stdout.strip()
    process = subprocess.Popen([sys.executable, "-m", "slab_api"], env=environment, stderr=subprocess.DEVNULL)
    os.sched_setaffinity(process.pid, {core})
    headers = {"authorization": f"Bearer {key}"}
    try:
        with httpx.Client(
            base_url=f"http://127.0.0.1:{port}", headers=headers, timeout=60, trust_env=False
        ) as http:
            _wait_until_ready(http)
            yield _Api(port=port, key=key, http=http)
    finally:
        process.terminate()
        process.wait()


def _wait_until_ready(http: httpx.Client) -> None:
    for _ in range(300):
        try:
            if http.get("/readyz").status_code == 200:
                return
        except httpx.TransportError:
            pass
        time.sleep(0.05)
    raise RuntimeError("the API was not ready in time")


def _columns(seed: int) -> dict[str, Any]:
    rng = np.random.default_rng(seed)
    return {
        "x": np.round(rng.uniform(0, 30, ROWS), 3),
        "y": np.round(rng.uniform(0, 50, ROWS), 3),
        "elevation": np.round(rng.normal(0, 0.004, ROWS), 5),
    }


def _arrow(*, seed: int) -> bytes:
    columns = _columns(seed)
    kinds = dict.fromkeys(columns, nanoarrow.float64())
    arrays = [nanoarrow.c_array(values, nanoarrow.float64()) for values in columns.values()]
    batch = nanoarrow.c_array_from_buffers(
        nanoarrow.struct(kinds), length=ROWS, buffers=[None], children=arrays
    )
    out = BytesIO()
    with StreamWriter.from_writable(out) as writer:
        writer.write_array(batch)
    return out.getvalue()


def _json(*, seed: int) -> bytes:
    columns = {name: values.tolist() for name, values in _columns(seed).items()}
    return json.dumps({"kind": "elevation", "value": columns.pop("elevation"), **columns}).encode()


def _median_ms(act: Callable[[], object]) -> float:
    spent = []
    for _ in range(ROUNDS):
        started = time.perf_counter()
        act()
        spent.append(time.perf_counter() - started)
    return 1000 * statistics.median(spent)


def _figure(name: str, value: float, unit: str, n: int) -> Figure:
    return Figure(name=name, value=value, unit=unit, peer=None, peer_value=None, n=n, memory_mb=None)
