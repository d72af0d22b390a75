"""The settings under which a lost or doubled bell loses and doubles nothing, each for itself."""

import time
from typing import Any

import pytest

from slab_base.setting_fields import SettingError
from slab_base.settings import Settings, load_settings
from slab_base.tasks import DOORBELLS, QUEUES
from slab_worker.app import broker_queue, make_app
from slab_worker.bells import Bells, BrokerUnavailable
from slab_worker.doorbells import install_tasks


def _settings(broker: str = "redis://localhost:1/0") -> Settings:
    return load_settings(environ={"SLABWRIGHT_BROKER_URL": broker})


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("task_acks_late", True),
        ("task_reject_on_worker_lost", True),
        ("task_ignore_result", True),
        ("worker_prefetch_multiplier", 1),
        ("result_backend", None),
        ("task_create_missing_queues", False),
        ("accept_content", ["json"]),
        ("broker_connection_max_retries", None),
    ],
)
@pytest.mark.parametrize("broker", ["redis://localhost:1/0", "amqp://localhost:1//"])
def test_the_setting_that_a_lost_worker_or_broker_hangs_on(broker: str, name: str, value: Any) -> None:
    assert getattr(make_app(settings=_settings(broker)).conf, name) == value


def test_soft_limit_before_hard_limit_before_visibility_timeout() -> None:
    settings = _settings()
    conf = make_app(settings=settings).conf
    visibility = conf.broker_transport_options["visibility_timeout"]
    assert 0 < conf.task_soft_time_limit < conf.task_time_limit < visibility
    assert settings.lease_seconds < visibility


def test_unacknowledged_messages_are_looked_through_every_two_seconds() -> None:
    options = make_app(settings=_settings()).conf.broker_transport_options
    assert (options["unacked_restore_interval"], options["unacked_restore_throttle"]) == (2, 1)


def test_rabbitmq_has_quorum_queues_and_confirmed_publishing() -> None:
    conf = make_app(settings=_settings("amqp://localhost:1//")).conf
    assert conf.task_default_queue_type == "quorum"
    assert conf.task_default_exchange_type == "topic"
    assert conf.worker_detect_quorum_queues
    assert conf.broker_transport_options == {"confirm_publish": True}
    for queue in QUEUES:
        declared = conf.task_queues[broker_queue(queue=queue)]
        assert declared["queue_arguments"] == {"x-queue-type": "quorum"}


def test_every_queue_has_a_task_and_a_broker_queue_and_no_other_is_consumed() -> None:
    app = make_app(settings=_settings())
    install_tasks(app=app)
    own = {name for name in app.tasks if not name.startswith("celery.")}
    assert own == set(DOORBELLS.values())
    assert set(app.conf.task_queues) == {broker_queue(queue=queue) for queue in QUEUES}


def test_a_bell_carries_no_content(monkeypatch: pytest.MonkeyPatch) -> None:
    app = make_app(settings=_settings())
    sent: list[tuple[str, dict[str, Any]]] = []
    monkeypatch.setattr(app, "send_task", lambda name, **options: sent.append((name, options)))
    Bells(app=app).ring(queue="light")
    ((name, options),) = sent
    assert name == "doorbell.light"
    assert not {"args", "kwargs"} & set(options)
    assert options["retry"] is False
    assert options["queue"] == "slabwright.light"


def test_a_broker_that_is_away_is_said_so_at_once() -> None:
    bells = Bells(app=make_app(settings=_settings()))
    started = time.monotonic()
    with pytest.raises(BrokerUnavailable):
        bells.ring(queue="light")
    assert time.monotonic() - started < 3  # kombu alone goes on for six seconds
    with pytest.raises(BrokerUnavailable):
        bells.waiting(queue="light")


def test_a_worker_without_a_broker_does_not_start() -> None:
    with pytest.raises(SettingError, match="BROKER_URL is not set"):
        make_app(settings=load_settings(environ={}))
