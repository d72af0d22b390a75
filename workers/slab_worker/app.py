"""The Celery application: doorbells without content, and settings under which a lost bell loses nothing."""

from typing import Any

from celery import Celery

from slab_base.settings import Settings
from slab_base.tasks import QUEUES

QUEUE_PREFIX = "slabwright."


def broker_queue(*, queue: str) -> str:
    """The broker's name for one of our queues."""
    return QUEUE_PREFIX + queue


def make_app(*, settings: Settings) -> Celery:
    """An application for relay or worker. Raises SettingError when no broker is set."""
    url = settings.need("broker_url")
    app = Celery("slabwright", broker=url, set_as_current=True)
    app.conf.update(common_configuration(settings=settings))
    app.conf.update(
        amqp_configuration() if url.startswith("amqp") else redis_configuration(settings=settings)
    )
    return app


def common_configuration(*, settings: Settings) -> dict[str, Any]:
    """What holds for every broker.

    The lease is not in one line with the time limits: a living child renews it however long its step takes,
    and within one lease after the hard limit has killed the child the step is free again.
    """
    return {
        # A bell is taken off the broker when the turn it rang for is over, not before.
        "task_acks_late": True,
        "task_reject_on_worker_lost": True,
        "worker_prefetch_multiplier": 1,
        "task_ignore_result": True,
        "result_backend": None,
        "task_soft_time_limit": settings.soft_limit_seconds,
        "task_time_limit": settings.hard_limit_seconds,
        "task_serializer": "json",
        "accept_content": ["json"],
        "task_create_missing_queues": False,
        "worker_hijack_root_logger": False,
        "worker_enable_remote_control": False,
        "worker_send_task_events": False,
        "worker_cancel_long_running_tasks_on_connection_loss": False,
        "broker_connection_retry_on_startup": True,
        "broker_connection_max_retries": None,
    }


def redis_configuration(*, settings: Settings) -> dict[str, Any]:
    """For the Redis protocol: what an ended worker held is put back at once, or after the long timeout."""
    return {
        "task_queues": {broker_queue(queue=queue): {} for queue in QUEUES},
        "broker_transport_options": {
            "visibility_timeout": settings.visibility_timeout_seconds,
            # How often, and at every how many chances, unacknowledged messages are looked through.
            "unacked_restore_interval": 2,
            "unacked_restore_throttle": 1,
            "socket_connect_timeout": 5,
            "socket_timeout": 10,
            "socket_keepalive": True,
            "health_check_interval": 10,
        },
    }


def amqp_configuration() -> dict[str, Any]:
    """For RabbitMQ: quorum queues survive the loss of a node, and a publish is confirmed."""
    quorum = {
        "exchange": "slabwright",
        "exchange_type": "topic",
        "durable": True,
        "queue_arguments": {"x-queue-type": "quorum"},
    }
    return {
        "task_default_queue_type": "quorum",
        "task_default_exchange_type": "topic",
        "worker_detect_quorum_queues": True,
        "task_queues": {broker_queue(queue=queue): dict(quorum) for queue in QUEUES},
        "broker_transport_options": {"confirm_publish": True},
    }
