"""The containers: started in order, without rights, from locked packages, with no password in a file."""

import re
from pathlib import Path
from typing import Any

import pytest
import yaml  # type: ignore[import-untyped]  # its types are not worth a package for one test

ROOT = Path(__file__).parents[2]
COMPOSE: dict[str, Any] = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
SERVICES: dict[str, Any] = COMPOSE["services"]
OURS = ("migrate", "api", "worker", "relay")
DOCKERFILE = (ROOT / "deploy" / "Dockerfile").read_text()
VARIABLE = re.compile(r"\$\{(?P<name>[A-Z_]+)(?P<otherwise>:[?-][^}]*)?\}")


def test_the_parts_are_those_of_the_launcher_and_its_servers() -> None:
    assert set(SERVICES) == {"postgres", "valkey", *OURS}


@pytest.mark.parametrize("name", ["api", "worker", "relay"])
def test_nothing_starts_before_the_database_is_up_to_date(name: str) -> None:
    assert SERVICES[name]["depends_on"]["migrate"] == {"condition": "service_completed_successfully"}
    assert SERVICES["migrate"]["depends_on"]["postgres"] == {"condition": "service_healthy"}


@pytest.mark.parametrize("name", ["worker", "relay"])
def test_who_needs_the_broker_waits_for_it(name: str) -> None:
    assert SERVICES[name]["depends_on"]["valkey"] == {"condition": "service_healthy"}


def test_the_api_does_not_know_the_broker() -> None:
    assert "SLABWRIGHT_BROKER_URL" not in SERVICES["api"]["environment"]
    assert "valkey" not in SERVICES["api"]["depends_on"]


@pytest.mark.parametrize("name", ["postgres", "valkey", "api"])
def test_who_is_waited_for_or_asked_has_a_healthcheck(name: str) -> None:
    assert SERVICES[name]["healthcheck"]["test"]


@pytest.mark.parametrize("name", OURS)
def test_our_containers_have_no_rights_and_a_file_system_that_cannot_be_written(name: str) -> None:
    service = SERVICES[name]
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert service["read_only"] is True


def test_only_the_migration_has_the_password_of_the_tables_owner() -> None:
    having = [
        name for name, service in SERVICES.items() if "POSTGRES_ADMIN_PASSWORD" in str(service["environment"])
    ]
    assert having == ["postgres", "migrate"]


def test_every_password_must_be_given_and_has_an_example() -> None:
    example = (ROOT / "deploy" / "env.example").read_text()
    for match in VARIABLE.finditer((ROOT / "docker-compose.yml").read_text()):
        if "PASSWORD" in match["name"]:
            assert match["otherwise"] == ":?see deploy/env.example", match[0]
            assert re.search(rf"^{match['name']}=local-only-", example, flags=re.MULTILINE), match["name"]


def test_only_this_machine_reaches_the_published_port() -> None:
    published = {name: service["ports"] for name, service in SERVICES.items() if "ports" in service}
    assert published == {"api": ["127.0.0.1:${API_PORT:-8000}:8000"]}


def test_images_are_made_from_locked_packages_alone() -> None:
    installs = [line for line in DOCKERFILE.replace("\\\n", " ").splitlines() if "pip install" in line]
    assert installs
    for line in installs:
        for command in re.findall(r"pip install [^&]*", line):
            assert "--require-hashes" in command or "--no-index" in command, command


def test_both_images_run_as_an_account_without_rights() -> None:
    stages = dict(re.findall(r"^FROM (\S+) AS (\S+)$", DOCKERFILE, flags=re.MULTILINE))
    targets = {service["build"]["target"] for service in SERVICES.values() if "build" in service}
    assert targets == {"api", "worker"}
    assert re.findall(r"^FROM base AS (\S+)$", DOCKERFILE, flags=re.MULTILINE) == ["api", "worker"]
    assert re.findall(r"^USER (\S+)$", DOCKERFILE, flags=re.MULTILINE) == ["10001:10001"]
    assert stages


def test_the_api_image_is_not_given_the_workers_packages() -> None:
    assert (
        "COPY --from=api-packages /app /app"
        in DOCKERFILE.partition("FROM base AS api")[2].partition("FROM")[0]
    )
    locked = (ROOT / "deploy" / "requirements" / "api.txt").read_text()
    for name in ("celery", "highspy", "numba", "ortools", "scipy", "pandas", "matplotlib"):
        assert not re.search(rf"^{name}==", locked, flags=re.MULTILINE)
