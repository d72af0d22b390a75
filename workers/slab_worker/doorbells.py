"""The two tasks, and what happens around the fork of the pool's processes."""

from typing import Any

from celery import Celery, signals

from slab_app.work.ports import Engine
from slab_base.settings import Settings
from slab_base.tasks import QUEUES, doorbell
from slab_worker import child

REQUEST = "slab_worker.request:StrictRequest"


def install_tasks(*, app: Celery) -> None:
    """One task a queue, without arguments and without result."""
    for queue in QUEUES:
        app.task(name=doorbell(queue=queue), shared=False, Request=REQUEST)(_answer(queue))


def install_lifecycle(*, settings: Settings, engine: Engine) -> None:
    """Prepare each child after its fork, and tell the children when the worker is asked to end."""

    def prepare(**_: Any) -> None:
        child.open_bench(settings=settings, engine=engine)

    def leave(**_: Any) -> None:
        child.announce_leaving()

    # Celery holds receivers weakly unless told otherwise.
    signals.worker_process_init.connect(prepare, weak=False)
    signals.worker_shutting_down.connect(leave, weak=False)


def _answer(queue: str) -> Any:
    def answer() -> None:
        child.answer_bell(queue=queue)

    return answer
