"""A failed acknowledgement must not be swallowed: the worker would stay connected and deaf."""

from typing import Any

import pytest
from kombu.message import Message

from slab_base.settings import load_settings
from slab_worker.app import make_app
from slab_worker.doorbells import install_tasks
from slab_worker.request import StrictRequest


class _BrokenChannel:
    no_ack_consumers = None

    def basic_ack(self, *_: Any, **__: Any) -> None:
        raise ConnectionError("the broker went away")

    basic_reject = basic_ack


def _request() -> StrictRequest:
    message = Message(channel=_BrokenChannel(), delivery_tag="1")
    request: StrictRequest = object.__new__(StrictRequest)
    request.acknowledged = False
    request._connection_errors = (ConnectionError,)
    request._on_ack = message.ack_log_error
    request._on_reject = message.reject_log_error
    return request


def test_a_failed_acknowledgement_is_raised_and_the_message_not_taken_as_settled() -> None:
    request = _request()
    with pytest.raises(ConnectionError):
        request.acknowledge()
    assert not request.acknowledged


def test_a_failed_rejection_is_raised() -> None:
    with pytest.raises(ConnectionError):
        _request().reject(requeue=True)


def test_both_doorbells_are_answered_by_strict_requests() -> None:
    app = make_app(settings=load_settings(environ={"SLABWRIGHT_BROKER_URL": "redis://localhost:1/0"}))
    install_tasks(app=app)
    assert {app.tasks[name].Request for name in ("doorbell.light", "doorbell.heavy")} == {
        "slab_worker.request:StrictRequest"
    }
