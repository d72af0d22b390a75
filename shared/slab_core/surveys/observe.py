"""Everything that was measured on one floor, as linear observations of its surface."""

import numpy as np
import shapely

from slab_core.errors import refuse
from slab_core.numerics.grid import Floats, Mask
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor
from slab_core.surveys.edges import gap_point
from slab_core.surveys.linear import joined, of_gaps, of_heights, of_stretched_line, rounded
from slab_core.surveys.model import Network, Observations, Profile, Survey
from slab_core.surveys.rows import Block, HeightRows, height_rows
from slab_core.surveys.stretched import reading_places


def observations(*, floor: Floor, surveys: tuple[Survey, ...], network: Network) -> Observations:
    """Observations of one floor's surface: heights in the order of surveys, then survey by survey gaps
    and readings from stretched lines.

    A height observes one place with the weights (1, 0, 0). A gap under an edge that rests at a and b,
    at the share t from a to b, is chord less floor: (1-t)·z(a) + t·z(b) - z(at the gap). A reading
    from a stretched line is the like, or, from ends of known height, a height.

    Raises
    ------
    InputRefused
        setup-untied, if a rod reading on this floor has no setup height.
    """
    rows = _rows(surveys, network=network)
    on_floor = _on_floor(rows, floor=floor, network=network)
    sds = {(height.survey, height.setup): height.sd_m for height in network.setup_heights}
    setup_sd = np.array([sds.get(setup.key, 0.0) for setup in rows.setups])
    parts = [of_heights(rows, chosen=on_floor, setup_sd_m=setup_sd)]
    for i, survey in enumerate(surveys):
        for k, gaps in enumerate(survey.gaps):
            prefix = f"/surveys/{i}/gaps/{k}/gap"
            chosen = _inside(gap_point(gaps), prefix, floor=floor, network=network)
            parts.append(of_gaps(gaps, chosen=chosen, prefix=prefix))
        for k, line in enumerate(survey.stretched_lines):
            prefix = f"/surveys/{i}/stretched_lines/{k}/value"
            chosen = _inside(reading_places(line), prefix, floor=floor, network=network)
            parts.append(of_stretched_line(line, chosen=chosen, prefix=prefix))
    return joined(parts)


def profiles(
    *, floor: Floor, surveys: tuple[Survey, ...], network: Network, gone: frozenset[str] = frozenset()
) -> tuple[Profile, ...]:
    """The measured lines on one floor, in order; of each the longest unbroken run on it, if it has one.
    Lines whose values were posted at a pointer in `gone` no longer tell the floor.

    Raises
    ------
    InputRefused
        setup-untied, if a line on this floor is read from a setup without a height.
    """
    rows = _rows(surveys, network=network)
    on_floor = _on_floor(rows, floor=floor, network=network)
    lines = (block for block in rows.blocks if block.line is not None and block.pointer not in gone)
    found = (_profile(block, rows=rows, on_floor=on_floor) for block in lines)
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


def _inside(at: tuple[Floats, Floats], prefix: str, *, floor: Floor, network: Network) -> Mask:
    inside = shapely.contains_xy(floor_polygon(floor), *at)
    for stray in network.strays:
        before, _, row = stray.pointer.rpartition("/")
        if before == prefix:
            inside[int(row)] = stray.floor_id == floor.id
    return np.asarray(inside, dtype=np.bool_)


def _profile(block: Block, *, rows: HeightRows, on_floor: Mask) -> Profile | None:
    first, count = _longest_run(on_floor[block.first : block.first + block.count])
    if block.line is None or count < 2:
        return None
    chosen = slice(block.first + first, block.first + first + count)
    x, y = rounded(rows.x_m[chosen]), rounded(rows.y_m[chosen])
    return Profile(
        id=block.line.id,
        start=(float(x[0]), float(y[0])),
        end=(float(x[-1]), float(y[-1])),
        spacing_m=block.line.spacing_m,
        height_m=rounded(rows.height_m[chosen]),
    )


def _longest_run(chosen: Mask) -> tuple[int, int]:
    """First row and length of the longest run of True; the first of equals."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], chosen, [False])).astype(np.int8)))
    if len(edges) == 0:
        return 0, 0
    starts, lengths = edges[::2], edges[1::2] - edges[::2]
    longest = int(lengths.argmax())
    return int(starts[longest]), int(lengths[longest])
