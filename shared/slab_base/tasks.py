"""Names of queues and tasks: all that the web service and the workers have to agree on.

A task carries no content. It rings a doorbell; the worker then asks Postgres what there is to do.
"""

from typing import Final

LIGHT: Final = "light"
HEAVY: Final = "heavy"
QUEUES: Final = (LIGHT, HEAVY)

DOORBELL_LIGHT: Final = "doorbell.light"
DOORBELL_HEAVY: Final = "doorbell.heavy"
DOORBELLS: Final = {LIGHT: DOORBELL_LIGHT, HEAVY: DOORBELL_HEAVY}


def doorbell(*, queue: str) -> str:
    """The task that announces work on `queue`. Raises ValueError for a queue that does not exist."""
    try:
        return DOORBELLS[queue]
    except KeyError:
        raise ValueError(f"there is no queue {queue!r}; the queues are {', '.join(QUEUES)}") from None
