"""Which kind of file is which, and units."""

from pathlib import Path

import numpy as np
import pytest

from slab_core.errors import InputRefused
from slab_files.importers.kinds import in_metres, open_points
from slab_files.importers.points import PointFile
from tests.unit.slab_files.importers.written import some_points, write_las, write_ply


def test_a_file_is_known_by_its_first_bytes_whatever_its_name(tmp_path: Path) -> None:
    points = some_points(20)
    np.savetxt(tmp_path / "a.las", points)
    write_las(tmp_path / "b.las", points).rename(tmp_path / "b.xyz")
    write_ply(tmp_path / "c.ply", points, form="ascii").rename(tmp_path / "c")
    kinds = [open_points(path=tmp_path / name).kind for name in ("a.las", "b.xyz", "c")]
    assert kinds == ["text", "las", "ply"]


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "scan-file-empty"),
        (b"PK\3\4" + bytes(100), "scan-file-unknown"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "scan-file-unknown"),
        (b"\xff\xfe\x80\x81 1 2 3", "scan-file-unknown"),
        (b"<html><body>not found</body></html>\n", "scan-file-unknown"),
        (b'\xef\xbb\xbf {"points": [[1, 2, 3]]}', "scan-file-unknown"),
        (b"no points here\n", "scan-file-empty"),
    ],
)
def test_other_files_are_refused(content: bytes, code: str, tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(content)
    with pytest.raises(InputRefused) as refused:
        open_points(path=tmp_path / "a")
    assert refused.value.problems[0].code == code


def source(*, unit_m: float | None) -> PointFile:
    return PointFile(kind="las", claimed=1, unit_m=unit_m, chunks=lambda: iter([np.ones((1, 3))]))


@pytest.mark.parametrize(
    ("own", "given", "factor"),
    [(None, None, 1.0), (0.3048, None, 0.3048), (None, 0.001, 0.001), (0.3048, 0.3048, 0.3048)],
)
def test_the_unit_given_or_else_the_files_own_is_used(
    own: float | None, given: float | None, factor: float
) -> None:
    (points,) = in_metres(source=source(unit_m=own), unit_m=given)
    np.testing.assert_array_equal(points, np.full((1, 3), factor))


@pytest.mark.parametrize(("own", "given"), [(1.0, 0.001), (None, 0.0), (None, float("nan"))])
def test_a_unit_that_contradicts_the_file_or_is_no_length_is_refused(
    own: float | None, given: float | None
) -> None:
    with pytest.raises(InputRefused, match="unit"):
        list(in_metres(source=source(unit_m=own), unit_m=given))
