"""The command that makes organisations and keys."""

import os
import subprocess
import sys

from slab_app.keys import parse_key
from tests.support.api import Service
from tests.support.problems import code_of


def _run(service: Service, *words: str) -> "subprocess.CompletedProcess[str]":
    environment = {**os.environ, **service.urls.environment()}
    command = [sys.executable, "-m", "slab_app.organisation", *words]
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=False)


def test_an_organisation_is_made_and_its_keys_work_until_they_are_revoked(service: Service) -> None:
    made = _run(service, "create", "--name", "Level Lane Floors")
    first = parse_key(made.stdout.strip())
    assert first is not None, made.stderr
    with service.client(first.text()) as office:
        assert office.get("/v1/jobs").status_code == 200
    words = ("key", "--organisation", str(first.organisation), "--role", "field-device")
    second = parse_key(_run(service, *words).stdout.strip())
    assert second is not None
    with service.client(second.text()) as device:
        assert code_of(device.get("/v1/jobs")) == "forbidden"
        _run(service, "revoke", "--organisation", str(second.organisation), "--key", second.key_id)
        assert code_of(device.get("/v1/jobs")) == "unauthenticated"


def test_what_cannot_be_done_is_said_and_not_done(service: Service) -> None:
    made = _run(service, "create", "--name", "A").stdout.strip()
    key = parse_key(made)
    assert key is not None
    again = _run(service, "create", "--name", "B", "--id", str(key.organisation))
    assert again.returncode == 2
    assert "already" in again.stderr
    words = (
        "key",
        "--organisation",
        str(key.organisation),
        "--role",
        "field-device",
        "--scope",
        "firm:write",
    )
    refused = _run(service, *words)
    assert refused.returncode == 2
    assert "firm:write" in refused.stderr
    assert refused.stdout == ""
