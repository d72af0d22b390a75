"""Log lines as JSON, one object a line, each with the trace id of the request or run it belongs to."""

import json
import logging
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import TextIO

from slab_base.redact import HIDDEN, is_secret_name, redact

_trace_id: ContextVar[str | None] = ContextVar("trace_id", default=None)
_RECORD_FIELDS = frozenset(vars(logging.makeLogRecord({}))) | {"message", "asctime", "taskName"}


def configure_logging(*, level: str = "INFO", stream: TextIO | None = None) -> None:
    """Send the root logger's lines to `stream` (stderr unless said) as JSON, and nowhere else."""
    handler = logging.StreamHandler(stream or sys.stderr)
    handler.setFormatter(JsonFormatter())
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(level)


def current_trace_id() -> str | None:
    """The trace id in force here, or None outside any request or run."""
    return _trace_id.get()


@contextmanager
def trace(trace_id: str) -> Iterator[None]:
    """Every line logged inside the block carries `trace_id`, also across awaits."""
    token = _trace_id.set(trace_id)
    try:
        yield
    finally:
        _trace_id.reset(token)


class JsonFormatter(logging.Formatter):
    """One JSON object a line; fields given by `extra=` stand beside the message, secrets are masked."""

    def format(self, record: logging.LogRecord) -> str:
        """The record as one line of JSON."""
        line: dict[str, object] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": redact(record.getMessage()),
            "trace_id": current_trace_id(),
        }
        extra = {name: value for name, value in vars(record).items() if name not in _RECORD_FIELDS}
        line.update(_clean(extra))
        if record.exc_info:
            line["exception"] = redact(self.formatException(record.exc_info))
        return json.dumps(line, ensure_ascii=False, default=str)


def _clean(fields: Mapping[str, object]) -> dict[str, object]:
    return {
        name: HIDDEN if is_secret_name(str(name)) else _clean_value(value) for name, value in fields.items()
    }


def _clean_value(value: object) -> object:
    if isinstance(value, Mapping):
        return _clean(value)
    if isinstance(value, list | tuple):
        return [_clean_value(item) for item in value]
    if value is None or isinstance(value, bool | int | float):
        return value
    return redact(str(value))
