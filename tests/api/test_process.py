"""The API process as it is started: what it loads, what it serves, how it ends."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest

from tests.support.api import valid_job
from tests.support.databases import FreshDatabase

BANNED = ("numba", "scipy", "highspy", "ortools", "matplotlib", "pandas", "celery", "alembic", "llvmlite")

_LOOK = f"""
import sys
from slab_api.app import create_app
from slab_base.settings import load_settings
from starlette.testclient import TestClient
import warnings
warnings.simplefilter("ignore")
import json
app = create_app(load_settings())
with TestClient(app) as client:
    assert client.get("/readyz").status_code in (200, 503)
    assert client.get("/openapi.json").status_code == 200
    key = sys.argv[1]
    headers = {{"authorization": f"Bearer {{key}}", "idempotency-key": "k"}}
    answer = client.post("/v1/estimates", json=json.loads(sys.argv[2]), headers=headers)
    assert answer.status_code == 202, answer.text
    for path in ("/v1/estimates", "/v1/price-books", answer.headers["location"] + "/surface"):
        client.get(path, headers=headers)
    headers["idempotency-key"] = "c"
    assert client.post("/v1/catalogues", json={{}}, headers=headers).status_code == 201
found = sorted({{name.partition(".")[0] for name in sys.modules}} & set({BANNED!r}))
print("loaded:", *found)
"""


def test_no_solver_compiler_or_broker_is_ever_loaded(fresh_database: FreshDatabase) -> None:
    environment = {**os.environ, **fresh_database.environment()}
    create = [sys.executable, "-m", "slab_app.organisation", "create", "--name", "Level Lane Floors"]
    key = subprocess.run(create, env=environment, capture_output=True, text=True, check=True).stdout.strip()
    done = subprocess.run(
        [sys.executable, "-c", _LOOK, key, json.dumps(valid_job())],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.splitlines()[-1:] == ["loaded:"], done.stdout + done.stderr


@pytest.mark.parametrize("ending", [signal.SIGTERM, signal.SIGINT])
def test_the_process_serves_and_ends_in_good_order(
    fresh_database: FreshDatabase, ending: signal.Signals
) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = {**os.environ, **fresh_database.environment(), "SLABWRIGHT_PORT": str(port)}
    process = subprocess.Popen(
        [sys.executable, "-m", "slab_api"], env=environment, stderr=subprocess.PIPE, text=True
    )
    try:
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False) as client:
            _wait_until_ready(client, process)
            assert client.get("/docs").status_code == 200
        process.send_signal(ending)
        _, log = process.communicate(timeout=20)
    finally:
        process.kill()
    assert "Traceback" not in log
    assert '"path": "/docs"' in log


def test_whoever_waits_is_answered_when_the_process_is_told_to_end(fresh_database: FreshDatabase) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = {**os.environ, **fresh_database.environment(), "SLABWRIGHT_PORT": str(port)}
    create = [sys.executable, "-m", "slab_app.organisation", "create", "--name", "Level Lane Floors"]
    key = subprocess.run(create, env=environment, capture_output=True, text=True, check=True).stdout.strip()
    process = subprocess.Popen([sys.executable, "-m", "slab_api"], env=environment, stderr=subprocess.DEVNULL)
    headers = {"authorization": f"Bearer {key}", "idempotency-key": "k"}
    try:
        with (
            httpx.Client(base_url=f"http://127.0.0.1:{port}", headers=headers, trust_env=False) as client,
            ThreadPoolExecutor(1) as pool,
        ):
            _wait_until_ready(client, process)
            path = client.post("/v1/estimates", json=valid_job()).headers["location"]
            waiting = pool.submit(client.get, path, headers={"prefer": "wait=50"}, timeout=60)
            time.sleep(0.5)
            process.send_signal(signal.SIGTERM)
            assert waiting.result().json()["state"] == "queued"
        process.wait(timeout=8)
    finally:
        process.kill()


def test_without_a_database_address_the_process_says_which_setting_is_missing() -> None:
    environment = {name: value for name, value in os.environ.items() if "DATABASE_URL" not in name}
    command = [sys.executable, "-m", "slab_api"]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False, timeout=30)
    assert done.returncode == 2
    assert "SLABWRIGHT_DATABASE_URL" in done.stderr


def test_a_role_that_owns_tables_is_not_ready(fresh_database: FreshDatabase) -> None:
    from slab_store.database import Database
    from slab_store.readiness import unready_reasons

    owner = Database(application_url=fresh_database.migration_url, pool_size=1)
    own = Database(application_url=fresh_database.app_url, pool_size=1)
    try:
        assert any("owns tables" in reason for reason in unready_reasons(owner))
        assert unready_reasons(own) == ()
    finally:
        owner.close()
        own.close()


def _wait_until_ready(
    client: httpx.Client, process: "subprocess.Popen[str] | subprocess.Popen[bytes]"
) -> None:
    for _ in range(300):
        assert process.poll() is None
        try:
            if client.get("/readyz").status_code == 200:
                return
        except httpx.TransportError:
            pass
        time.sleep(0.05)
    raise AssertionError("the API was not ready in time")
