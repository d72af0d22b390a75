"""Log lines: one JSON object each, with the trace id, without secrets."""

import io
import json
import logging
from collections.abc import Iterator
from typing import Any

import pytest

from slab_base.logs import configure_logging, current_trace_id, trace


@pytest.fixture
def stream() -> Iterator[io.StringIO]:
    root = logging.getLogger()
    before = (root.handlers[:], root.level)
    target = io.StringIO()
    configure_logging(level="INFO", stream=target)
    yield target
    root.handlers[:], level = before
    root.setLevel(level)


def lines(stream: io.StringIO) -> list[dict[str, Any]]:
    return [json.loads(line) for line in stream.getvalue().splitlines()]


def test_a_line_is_one_json_object_with_time_level_and_message(stream: io.StringIO) -> None:
    logging.getLogger("slab").info("claimed %s\nsecond line", "step 1")
    (line,) = lines(stream)
    assert (line["level"], line["logger"], line["message"]) == ("info", "slab", "claimed step 1\nsecond line")
    assert line["time"].endswith("+00:00")


def test_lines_below_the_level_are_left_out(stream: io.StringIO) -> None:
    logging.getLogger("slab").debug("detail")
    assert lines(stream) == []


def test_the_trace_id_is_on_the_lines_of_its_block_only(stream: io.StringIO) -> None:
    logger = logging.getLogger("slab")
    with trace("t-1"):
        logger.info("inside")
        with trace("t-2"):
            logger.info("nested")
    logger.info("outside")
    assert [line["trace_id"] for line in lines(stream)] == ["t-1", "t-2", None]
    assert current_trace_id() is None


def test_extra_fields_stand_beside_the_message(stream: io.StringIO) -> None:
    logging.getLogger("slab").info("done", extra={"step": "surface", "seconds": 0.5, "rows": [1, 2]})
    (line,) = lines(stream)
    assert (line["step"], line["seconds"], line["rows"]) == ("surface", 0.5, [1, 2])


def test_fields_named_like_secrets_are_masked_at_any_depth(stream: io.StringIO) -> None:
    logging.getLogger("slab").info(
        "call", extra={"headers": {"Authorization": "x1"}, "api_key": "x2", "sub": [{"token": "x3"}]}
    )
    assert not any(secret in stream.getvalue() for secret in ("x1", "x2", "x3"))


@pytest.mark.parametrize(
    "message",
    [
        "connect to postgresql://app:hunter2@db/slab failed",
        "redis://:hunter2@127.0.0.1:6379/0 refused",
        "got Authorization: Bearer hunter2",
        "password=hunter2 host=db",
        '{"client_secret": "hunter2"}',
        "PGPASSWORD=hunter2",
    ],
)
def test_secrets_inside_text_are_masked(stream: io.StringIO, message: str) -> None:
    logging.getLogger("slab").warning(message)
    logging.getLogger("slab").warning("it said %s", message)
    assert "hunter2" not in stream.getvalue()
    assert stream.getvalue().count("***") == 2


def test_an_exception_is_logged_with_its_place_and_without_its_secrets(stream: io.StringIO) -> None:
    try:
        raise ValueError("no route to postgresql://app:hunter2@db/slab")
    except ValueError:
        logging.getLogger("slab").exception("failed")
    (line,) = lines(stream)
    assert "test_logs.py" in line["exception"]
    assert "hunter2" not in line["exception"]


def test_values_that_json_does_not_know_are_written_as_text(stream: io.StringIO) -> None:
    logging.getLogger("slab").info("odd", extra={"thing": {1: object()}})
    assert "object object" in str(lines(stream)[0]["thing"])


@pytest.mark.parametrize("prefix", ["slab", "offer"])
def test_a_key_or_link_of_ours_keeps_only_the_part_that_names_it(stream: io.StringIO, prefix: str) -> None:
    name = f"{prefix}_{'a' * 34}_"
    text = f"{name}{'b' * 52}_{'c' * 7}"
    logging.getLogger("slab").info("%s made a call", text, extra={"path": f"/v1/offers/{text}/accept"})
    assert lines(stream)[0]["message"] == f"{name}*** made a call"
    assert lines(stream)[0]["path"] == f"/v1/offers/{name}***/accept"
