"""The cache of results in a worker process."""

from slab_app.codec import Encoded
from slab_app.work.cache import ResultCache
from slab_base.ids import new_id

FIRM = new_id()


def _encoded(size: int) -> Encoded:
    return Encoded(json=b"x" * size, arrays=b"")


def test_the_result_used_longest_ago_makes_room() -> None:
    cache = ResultCache(max_bytes=250)
    for name in (b"a", b"b"):
        cache.put(organisation=FIRM, digest=name, encoded=_encoded(100))
    assert cache.get(organisation=FIRM, digest=b"a") is not None
    cache.put(organisation=FIRM, digest=b"c", encoded=_encoded(100))
    kept = [name for name in (b"a", b"b", b"c") if cache.get(organisation=FIRM, digest=name)]
    assert kept == [b"a", b"c"]


def test_a_result_larger_than_the_cache_is_not_kept() -> None:
    cache = ResultCache(max_bytes=10)
    cache.put(organisation=FIRM, digest=b"a", encoded=_encoded(100))
    assert cache.get(organisation=FIRM, digest=b"a") is None


def test_organisations_do_not_share() -> None:
    cache = ResultCache()
    cache.put(organisation=FIRM, digest=b"a", encoded=_encoded(1))
    assert cache.get(organisation=new_id(), digest=b"a") is None


def test_the_same_result_put_twice_counts_once() -> None:
    cache = ResultCache(max_bytes=250)
    for name in (b"a", b"a", b"a", b"b"):
        cache.put(organisation=FIRM, digest=name, encoded=_encoded(100))
    assert cache.get(organisation=FIRM, digest=b"a") is not None
