"""Which error gets which answer."""

from slab_api.handlers import as_problem
from slab_files.storage import StoreFull


def test_a_full_disk_is_507_and_says_when_to_come_again() -> None:
    problem = as_problem(StoreFull("the disk that files are stored on has no room left"))
    assert (problem.kind.status, problem.kind.code) == (507, "storage-full")
    assert problem.headers["retry-after"] == "60"
