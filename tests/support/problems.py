"""What every error has to look like."""

import httpx

from slab_api.problems import KINDS


def code_of(answer: httpx.Response) -> str:
    """The code of a problem, after checking that the answer is one by RFC 9457."""
    assert answer.headers["content-type"] == "application/problem+json", answer.text
    body = answer.json()
    base, _, code = body["type"].rpartition("/problems/")
    assert base.startswith("http://")
    assert body["status"] == answer.status_code == KINDS[code].status
    assert body["title"] == KINDS[code].title
    assert body["trace_id"] == answer.headers["trace-id"]
    assert "Traceback" not in answer.text
    return code


def pointers_of(answer: httpx.Response) -> list[str]:
    """The places that a problem names."""
    return [fault["pointer"] for fault in answer.json().get("errors", [])]
