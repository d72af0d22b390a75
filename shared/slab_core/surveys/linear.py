"""Readings of each kind as rows of linear observations of a floor's surface."""

from dataclasses import replace

import numpy as np

from slab_core.numerics.grid import Floats, Mask
from slab_core.surveys.edges import along, gap_point, rest_weights, rests
from slab_core.surveys.model import Gaps, Observations, StretchedLine
from slab_core.surveys.rows import HeightRows
from slab_core.surveys.shared_errors import setup_errors
from slab_core.surveys.stretched import end_weights, line_height_m, reading_places, reading_sd_m

_DIGITS = 9
"""Observations are rounded to 1 nm, so that equal surveys are equal data."""


def of_heights(rows: HeightRows, *, chosen: Mask, setup_sd_m: Floats) -> Observations:
    """Heights at places; `setup_sd_m` are the standard deviations of the heights of `rows.setups`."""
    pointers = rows.pointers()
    heights = _single(
        x_m=rows.x_m[chosen],
        y_m=rows.y_m[chosen],
        value_m=rows.height_m[chosen],
        sd_m=rows.sd_m[chosen],
        position_sd_m=rows.position_sd_m[chosen],
        pointer=tuple(pointers[row] for row in np.flatnonzero(chosen).tolist()),
    )
    shared, numbers = setup_errors(setup=rows.setup[chosen], sd_m=setup_sd_m)
    return replace(heights, shared_m=shared, shared_by=tuple(rows.setups[k].pointer for k in numbers))


def of_gaps(gaps: Gaps, *, chosen: Mask, prefix: str) -> Observations:
    """Gaps under an edge: its height over the gap, from the floor at its rests, less the floor there.

    Their places count as exact: a gap keeps its value on any slope, and only a change of curvature
    within a misplacing moves it.
    """
    low, high = rests(gaps)
    places = (along(gaps, low), along(gaps, high), gap_point(gaps))
    return _coupled(
        places=places,
        weights=rest_weights(gaps),
        value_m=gaps.gap_m,
        sd_m=gaps.sd_m,
        position_sd_m=0.0,
        chosen=chosen,
        prefix=prefix,
    )


def of_stretched_line(line: StretchedLine, *, chosen: Mask, prefix: str) -> Observations:
    """Readings down from a stretched line: line less floor.

    Where the line's ends stand on the floor, the floor there is part of what is observed; where they
    are known heights, each reading is a height.
    """
    height, sd = line_height_m(line), reading_sd_m(line)
    x, y = reading_places(line)
    if line.ends == "elevation":
        return _single(
            x_m=x[chosen],
            y_m=y[chosen],
            value_m=(height - line.value_m)[chosen],
            sd_m=sd[chosen],
            position_sd_m=np.full(int(chosen.sum()), line.position_sd_m),
            pointer=_pointers(prefix, chosen),
        )
    same = np.ones(len(x))
    ends = ((same * at[0], same * at[1]) for at in (line.start, line.end))
    return _coupled(
        places=(*ends, (x, y)),
        weights=end_weights(line),
        value_m=line.value_m - height,
        sd_m=sd,
        position_sd_m=line.position_sd_m,
        chosen=chosen,
        prefix=prefix,
    )


def joined(parts: list[Observations]) -> Observations:
    """Several sets of observations as one, in order."""
    return Observations(
        x_m=np.concatenate([part.x_m for part in parts]),
        y_m=np.concatenate([part.y_m for part in parts]),
        weight=np.concatenate([part.weight for part in parts]),
        value_m=np.concatenate([part.value_m for part in parts]),
        sd_m=np.concatenate([part.sd_m for part in parts]),
        position_sd_m=np.concatenate([part.position_sd_m for part in parts]),
        pointer=tuple(pointer for part in parts for pointer in part.pointer),
        shared_m=_shared(parts),
        shared_by=tuple(pointer for part in parts for pointer in part.shared_by),
    )


def _shared(parts: list[Observations]) -> Floats:
    """Each part's shared errors are its own: their columns side by side."""
    out = np.zeros((sum(len(p.value_m) for p in parts), sum(p.shared_m.shape[1] for p in parts)))
    row = column = 0
    for part in parts:
        n, k = len(part.value_m), part.shared_m.shape[1]
        if k:
            out[row : row + n, column : column + k] = part.shared_m
        row, column = row + n, column + k
    return out


def rounded(values: Floats) -> Floats:
    """To the nanometre, without a negative zero."""
    return np.asarray(np.round(values, _DIGITS) + 0.0)


def _single(
    *,
    x_m: Floats,
    y_m: Floats,
    value_m: Floats,
    sd_m: Floats,
    position_sd_m: Floats,
    pointer: tuple[str, ...],
) -> Observations:
    weight = np.zeros((len(x_m), 3))
    weight[:, 0] = 1.0
    return Observations(
        # The places of no weight repeat the first, so that they too lie on the floor.
        x_m=rounded(np.repeat(x_m[:, None], 3, axis=1)),
        y_m=rounded(np.repeat(y_m[:, None], 3, axis=1)),
        weight=weight,
        value_m=rounded(value_m),
        sd_m=rounded(sd_m),
        position_sd_m=rounded(position_sd_m),
        pointer=pointer,
    )


def _coupled(
    *,
    places: tuple[tuple[Floats, Floats], ...],
    weights: tuple[Floats, Floats],
    value_m: Floats,
    sd_m: Floats,
    position_sd_m: float,
    chosen: Mask,
    prefix: str,
) -> Observations:
    """Two places that carry an edge or a line, and the place under it that was measured."""
    return Observations(
        x_m=rounded(np.column_stack([x for x, _ in places])[chosen]),
        y_m=rounded(np.column_stack([y for _, y in places])[chosen]),
        weight=np.column_stack([*weights, -np.ones(len(chosen))])[chosen],
        value_m=rounded(value_m[chosen]),
        sd_m=rounded(sd_m[chosen]),
        position_sd_m=np.full(int(chosen.sum()), position_sd_m),
        pointer=_pointers(prefix, chosen),
    )


def _pointers(prefix: str, chosen: Mask) -> tuple[str, ...]:
    return tuple(f"{prefix}/{row}" for row in np.flatnonzero(chosen).tolist())
