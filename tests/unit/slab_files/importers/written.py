"""Files of points that the tests write themselves, and what reading them gives."""

from pathlib import Path

import laspy
import numpy as np
import pytest

from slab_core.errors import InputRefused
from slab_core.numerics.grid import Floats
from slab_files.importers.kinds import open_points

SCAN = Path(__file__).parents[3] / "reference/data/plane.laz"


def some_points(n: int = 1000, *, seed: int = 0) -> Floats:
    """Places of whole tenths of a millimetre, which every format here can hold."""
    return np.random.default_rng(seed).integers(-90_000, 90_000, (n, 3)) / 1e4


def read(path: Path) -> Floats:
    chunks = list(open_points(path=path).chunks())
    return np.concatenate(chunks) if chunks else np.empty((0, 3))


def refusal(path: Path) -> tuple[str, str]:
    """Code and words of the one problem with a file."""
    with pytest.raises(InputRefused) as refused:
        read(path)
    (problem,) = refused.value.problems
    assert problem.severity == "refusal"
    return problem.code, problem.detail


def outcome(path: Path) -> str | int:
    """How many points are read, or the code of the refusal."""
    try:
        return len(read(path))
    except InputRefused as refused:
        return refused.problems[0].code


def write_las(path: Path, points: Floats, *, point_format: int = 0, version: str = "1.2") -> Path:
    header = laspy.LasHeader(point_format=point_format, version=version)
    header.scales, header.offsets = np.full(3, 1e-4), np.floor(points.mean(axis=0))
    las = laspy.LasData(header)
    las.x, las.y, las.z = points.T
    las.write(path)
    return path


def write_ply(path: Path, points: Floats, *, form: str, kind: str = "double", extra: bool = True) -> Path:
    """`extra`: a colour before the axes and faces behind the vertices."""
    order = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}[form]
    names = (["red"] if extra else []) + ["x", "y", "z"]
    lines = [f"property {'uchar' if name == 'red' else kind} {name}" for name in names]
    faces = ["element face 1", "property list uchar int vertex_indices"] if extra else []
    head = ["ply", f"format {form} 1.0", "comment made up", f"element vertex {len(points)}"]
    text = "\n".join([*head, *lines, *faces, "end_header", ""])
    kinds = {"red": "u1", **dict.fromkeys("xyz", order + {"double": "f8", "float": "f4"}[kind])}
    rows = np.zeros(len(points), dtype=[(name, kinds[name]) for name in names])
    for axis, name in enumerate("xyz"):
        rows[name] = points[:, axis]
    if order:
        body = rows.tobytes() + (np.array([3, 0, 0, 0], "u1").tobytes() * 4 if extra else b"")
    else:
        body = "".join(" ".join(str(value) for value in row) + "\n" for row in rows.tolist()).encode()
        body += b"3 0 1 2\n" if extra else b""
    path.write_bytes(text.encode() + body)
    return path
