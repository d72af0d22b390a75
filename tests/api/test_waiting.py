"""`Prefer: wait`: many wait, none of them in anybody's way."""

import asyncio
import time

import httpx
import psycopg

from tests.support.api import Firm, Service, valid_job

WAITERS = 200


def test_two_hundred_who_wait_hold_no_thread_and_no_connection(service: Service, firm: Firm) -> None:
    path = firm.post("/v1/estimates", valid_job()).headers["location"]

    async def play() -> tuple[list[httpx.Response], list[float], int]:
        limits = httpx.Limits(max_connections=WAITERS + 5)
        headers = {"authorization": f"Bearer {firm.key}"}
        async with httpx.AsyncClient(
            base_url=service.url, headers=headers, limits=limits, timeout=60, trust_env=False
        ) as client:
            waiting = [
                asyncio.create_task(client.get(path, headers={"prefer": "wait=45"})) for _ in range(WAITERS)
            ]
            await _until_all_wait(service)
            busy = _connections_in_use(service)
            took = [await _timed(client, "/v1/jobs") for _ in range(20)]
            assert not any(task.done() for task in waiting)
            await client.post(f"{path}/cancel")
            return await asyncio.gather(*waiting), took, busy

    answers, took, busy = asyncio.run(play())
    assert {answer.json()["state"] for answer in answers} == {"cancelled"}
    assert {answer.headers["preference-applied"] for answer in answers} == {"wait=45"}
    assert busy <= 1
    # No timed test: only that nobody stood in a queue behind 200 others who wait for 45 s.
    assert max(took) < 20


def test_a_wait_ends_with_the_estimate_as_it_is_then(firm: Firm) -> None:
    answer = firm.post("/v1/estimates", valid_job(), prefer="respond-async, wait=1")
    assert answer.status_code == 202
    assert answer.headers["preference-applied"] == "wait=1"
    assert answer.json()["state"] == "queued"


def test_a_repeated_post_that_waits_acts_on_the_first_ones_estimate(firm: Firm) -> None:
    first = firm.post("/v1/estimates", valid_job(), idempotency_key="once")
    firm.client.post(f"{first.headers['location']}/cancel")
    again = firm.post("/v1/estimates", valid_job(), idempotency_key="once", prefer="wait=20")
    assert again.status_code == 200
    assert again.headers["content-location"] == first.headers["location"]
    assert again.json()["state"] == "cancelled"
    assert firm.post("/v1/estimates", valid_job(), idempotency_key="once").content == first.content


def test_a_finished_estimate_is_told_of_after_the_listening_connection_was_cut(
    service: Service, firm: Firm
) -> None:
    path = firm.post("/v1/estimates", valid_job()).headers["location"]

    async def play() -> httpx.Response:
        headers = {"authorization": f"Bearer {firm.key}", "prefer": "wait=30"}
        async with httpx.AsyncClient(base_url=service.url, timeout=60, trust_env=False) as client:
            waiting = asyncio.create_task(client.get(path, headers=headers))
            while not service.app.state.slab.finished.waiters:
                await asyncio.sleep(0.01)
            _cut_listener(service)
            await client.post(f"{path}/cancel", headers=headers)
            return await waiting

    assert asyncio.run(play()).json()["state"] == "cancelled"


async def _until_all_wait(service: Service) -> None:
    while service.app.state.slab.finished.waiters < WAITERS:
        await asyncio.sleep(0.02)
    while _connections_in_use(service) > 0:
        await asyncio.sleep(0.02)


async def _timed(client: httpx.AsyncClient, path: str) -> float:
    started = time.monotonic()
    assert (await client.get(path)).status_code == 200
    return time.monotonic() - started


def _connections_in_use(service: Service) -> int:
    return int(service.app.state.slab.database.application_engine.pool.checkedout())


def _cut_listener(service: Service) -> None:
    with psycopg.connect(service.urls.migration_url, autocommit=True) as admin:
        admin.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
            " WHERE datname = current_database() AND application_name = 'slabwright listen'"
        )
