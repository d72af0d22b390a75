"""Headers that steer answers: Prefer, Accept, If-Match, traceparent."""

import pytest
from starlette.datastructures import Headers

from slab_api.conditional import content_tag, is_unchanged, required_version, version_tag
from slab_api.middleware import trace_id_of
from slab_api.prefer import wanted_wait
from slab_api.problems import ApiProblem
from slab_api.routes.accept import preferred
from slab_app.errors import VersionStale


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("wait=30", 30),
        ("WAIT = 5", 5),
        ('respond-async, wait="7"', 7),
        ("wait=10; x=y", 10),
        ("wait=100000", 60),
        ("wait=0", 0),
        ("wait=-1", 0),
        ("wait=1.5", 0),
        ("wait", 0),
        ("awaited=3", 0),
        ("", 0),
    ],
)
def test_the_wait_is_read_and_what_is_not_understood_ignored(text: str, seconds: int) -> None:
    assert wanted_wait(Headers({"prefer": text}), most=60) == seconds


@pytest.mark.parametrize(
    ("accept", "form"),
    [
        ("*/*", "a/json"),
        ("a/arrow", "a/arrow"),
        ("a/json;q=0.5, a/arrow", "a/arrow"),
        ("a/*;q=0.1, a/arrow;q=0.9", "a/arrow"),
        ("text/html, */*;q=0.1", "a/json"),
        ("a/arrow;q=0, */*", "a/json"),
    ],
)
def test_the_form_that_is_liked_best_is_given(accept: str, form: str) -> None:
    assert preferred(accept, offered=("a/json", "a/arrow")) == form


@pytest.mark.parametrize("accept", ["text/csv", "a/json;q=0", "b/*", "", "a/json;q=x"])
def test_what_is_not_offered_is_refused(accept: str) -> None:
    with pytest.raises(ApiProblem, match="not-acceptable"):
        preferred(accept, offered=("a/json",))


def test_a_version_tag_reads_back_and_nothing_else_matches() -> None:
    assert required_version(Headers({"if-match": version_tag(12)})) == 12
    with pytest.raises(ApiProblem, match="if-match-required"):
        required_version(Headers({}))
    for text in ('W/"v1"', "v1", '"v"', '"v1", "v2"', "*", '"v99999999999"'):
        with pytest.raises(VersionStale):
            required_version(Headers({"if-match": text}))


def test_a_client_that_has_a_body_already_is_not_sent_it_again() -> None:
    tag = content_tag(b"x")
    assert is_unchanged(Headers({"if-none-match": f'"other", {tag}'}), tag=tag)
    assert is_unchanged(Headers({"if-none-match": f"W/{tag}"}), tag=tag)
    assert not is_unchanged(Headers({"if-none-match": '"other"'}), tag=tag)
    assert not is_unchanged(Headers({}), tag=tag)


def test_a_trace_is_carried_on_and_a_wrong_one_replaced() -> None:
    good = "4bf92f3577b34da6a3ce929d0e0e4736"
    assert trace_id_of(Headers({"traceparent": f"00-{good}-00f067aa0ba902b7-01"})) == good
    for text in (f"00-{'0' * 32}-00f067aa0ba902b7-01", f"00-{good}-{'0' * 16}-01", good, "x\ny"):
        made = trace_id_of(Headers({"traceparent": text}))
        assert len(made) == 32
        assert made != good
