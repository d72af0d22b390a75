"""Everything that was measured on one floor, as linear observations of its surface."""

import numpy as np
import shapely

from slab_core.errors import refuse
from slab_core.numerics.grid import Floats, Mask
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor
from slab_core.surveys.model import Gaps, Network, Observations, Profile, Survey
from slab_core.surveys.placing import gap_point
from slab_core.surveys.rows import Block, HeightRows, height_rows

_DIGITS = 9
"""Observations are rounded to 1 nm, so that equal surveys are equal data."""


def observations(*, floor: Floor, surveys: tuple[Survey, ...], network: Network) -> Observations:
    """Observations of one floor's surface: heights in the order of surveys, then gaps.

    A height observes one place with the weights (1, 0, 0). A gap under an edge from a to b, at the
    share t of it, is chord less floor: (1-t)·z(a) + t·z(b) - z(at the gap). A gap's places count as
    exact: it keeps its value on any slope, and only a change of curvature within a misplacing moves it.

    Raises
    ------
    InputRefused
        setup-untied, if a rod reading on this floor has no setup height.
    """
    rows = _rows(surveys, network=network)
    on_floor = _on_floor(rows, floor=floor, network=network)
    parts = [_heights(rows, chosen=on_floor)]
    for i, survey in enumerate(surveys):
        for k, gaps in enumerate(survey.gaps):
            prefix = f"/surveys/{i}/gaps/{k}/gap"
            parts.append(
                _gaps(gaps, chosen=_gaps_on(gaps, prefix, floor=floor, network=network), prefix=prefix)
            )
    return _joined(parts)


def profiles(*, floor: Floor, surveys: tuple[Survey, ...], network: Network) -> tuple[Profile, ...]:
    """The measured lines on one floor, in order; of each the longest unbroken run on it, if it has one.

    Raises
    ------
    InputRefused
        setup-untied, if a line on this floor is read from a setup without a height.
    """
    rows = _rows(surveys, network=network)
    on_floor = _on_floor(rows, floor=floor, network=network)
    found = (_profile(block, rows=rows, on_floor=on_floor) for block in rows.blocks if block.line is not None)
    return tuple(profile for profile in found if profile is not None)


def _rows(surveys: tuple[Survey, ...], *, network: Network) -> HeightRows:
    heights = {(height.survey, height.setup): height.height_m for height in network.setup_heights}
    return height_rows(surveys=surveys, heights=heights)


def _on_floor(rows: HeightRows, *, floor: Floor, network: Network) -> Mask:
    inside = shapely.contains_xy(floor_polygon(floor), rows.x_m, rows.y_m)
    for stray in network.strays:
        row = rows.row(stray.pointer)
        if row is not None:
            inside[row] = stray.floor_id == floor.id
    missing = np.flatnonzero(inside & np.isnan(rows.height_m))
    if len(missing):
        detail = "the reading's setup is tied to nothing, so it has no height; tie the setup to a benchmark"
        raise refuse(code="setup-untied", detail=detail, pointer=rows.pointer(int(missing[0])))
    return np.asarray(inside, dtype=np.bool_)


def _gaps_on(gaps: Gaps, prefix: str, *, floor: Floor, network: Network) -> Mask:
    x, y = gap_point(gaps)
    inside = shapely.contains_xy(floor_polygon(floor), x, y)
    for stray in network.strays:
        before, _, row = stray.pointer.rpartition("/")
        if before == prefix:
            inside[int(row)] = stray.floor_id == floor.id
    return np.asarray(inside, dtype=np.bool_)


def _heights(rows: HeightRows, *, chosen: Mask) -> Observations:
    count = int(chosen.sum())
    weight = np.zeros((count, 3))
    weight[:, 0] = 1.0
    pointers = rows.pointers()
    return Observations(
        # The places of no weight repeat the first, so that they too lie on the floor.
        x_m=_rounded(np.repeat(rows.x_m[chosen, None], 3, axis=1)),
        y_m=_rounded(np.repeat(rows.y_m[chosen, None], 3, axis=1)),
        weight=weight,
        value_m=_rounded(rows.height_m[chosen]),
        sd_m=_rounded(rows.sd_m[chosen]),
        position_sd_m=_rounded(rows.position_sd_m[chosen]),
        pointer=tuple(pointers[row] for row in np.flatnonzero(chosen).tolist()),
    )


def _gaps(gaps: Gaps, *, chosen: Mask, prefix: str) -> Observations:
    x, y = gap_point(gaps)
    share = gaps.at[chosen]
    return Observations(
        x_m=_rounded(np.column_stack([gaps.x0_m, gaps.x1_m, x])[chosen]),
        y_m=_rounded(np.column_stack([gaps.y0_m, gaps.y1_m, y])[chosen]),
        weight=np.column_stack([1.0 - share, share, -np.ones(len(share))]),
        value_m=_rounded(gaps.gap_m[chosen]),
        sd_m=_rounded(gaps.sd_m[chosen]),
        position_sd_m=np.zeros(len(share)),
        pointer=tuple(f"{prefix}/{row}" for row in np.flatnonzero(chosen).tolist()),
    )


def _joined(parts: list[Observations]) -> Observations:
    return Observations(
        x_m=np.concatenate([part.x_m for part in parts]),
        y_m=np.concatenate([part.y_m for part in parts]),
        weight=np.concatenate([part.weight for part in parts]),
        value_m=np.concatenate([part.value_m for part in parts]),
        sd_m=np.concatenate([part.sd_m for part in parts]),
        position_sd_m=np.concatenate([part.position_sd_m for part in parts]),
        pointer=tuple(pointer for part in parts for pointer in part.pointer),
    )


def _rounded(values: Floats) -> Floats:
    return np.asarray(np.round(values, _DIGITS) + 0.0)


def _profile(block: Block, *, rows: HeightRows, on_floor: Mask) -> Profile | None:
    first, count = _longest_run(on_floor[block.first : block.first + block.count])
    if block.line is None or count < 2:
        return None
    chosen = slice(block.first + first, block.first + first + count)
    x, y = _rounded(rows.x_m[chosen]), _rounded(rows.y_m[chosen])
    return Profile(
        id=block.line.id,
        start=(float(x[0]), float(y[0])),
        end=(float(x[-1]), float(y[-1])),
        spacing_m=block.line.spacing_m,
        height_m=_rounded(rows.height_m[chosen]),
    )


def _longest_run(chosen: Mask) -> tuple[int, int]:
    """First row and length of the longest run of True; the first of equals."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], chosen, [False])).astype(np.int8)))
    if len(edges) == 0:
        return 0, 0
    starts, lengths = edges[::2], edges[1::2] - edges[::2]
    longest = int(lengths.argmax())
    return int(starts[longest]), int(lengths[longest])
