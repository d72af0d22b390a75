"""Names of the NOTIFY channels."""

from typing import Final

OUTBOX: Final = "outbox"
"""Payload: the name of a queue that something was announced for."""

RUN_FINISHED: Final = "run_finished"
"""Payload: the id of a run that is over, however it ended."""

RUN_PROGRESS: Final = "run_progress"
"""Payload: the id of a run of which a step was finished."""
