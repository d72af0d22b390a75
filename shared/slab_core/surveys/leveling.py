"""Least squares of a level network, as height differences between named points."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from slab_core.numerics.grid import Floats

Node = tuple[str, ...]
"""What has a height: ("setup", survey id, setup id), or ("point", name)."""

_ALONE = 1e-9
"""Share of redundancy below which nothing checks an observation."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """An observation that `upper` is `value_m` above `lower`; without `lower`, above the datum."""

    upper: Node
    lower: Node | None
    value_m: float
    sd_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Adjusted:
    """Heights and their standard deviations by node, and what is left over, per observation.

    `residual_m` is observed less adjusted, `redundancy` (0..1) the share of an error of the observation
    that shows in its own residual.
    """

    height_m: dict[Node, float]
    sd_m: dict[Node, float]
    residual_m: Floats
    redundancy: Floats
    degrees_of_freedom: int


def adjust_differences(*, differences: tuple[Difference, ...], known: Mapping[Node, float]) -> Adjusted:
    """Weighted least squares with the `known` heights held fixed; every node must be tied to one.

    Heights in metres. The formulas are those of any text on adjustment: x = (AᵀPA)⁻¹AᵀPl, redundancy
    1 - diag(A(AᵀPA)⁻¹AᵀP), by QR of the weighted design.
    """
    nodes = _unknown(differences, known=known)
    index = {node: i for i, node in enumerate(nodes)}
    design = np.zeros((len(differences), len(nodes)))
    right = np.array([difference.value_m for difference in differences], dtype=np.float64)
    weight = 1.0 / np.array([difference.sd_m for difference in differences], dtype=np.float64)
    for row, difference in enumerate(differences):
        for node, sign in ((difference.upper, 1.0), (difference.lower, -1.0)):
            if node in index:
                design[row, index[node]] = sign
            elif node is not None:
                right[row] -= sign * known[node]
    q, r = np.linalg.qr(design * weight[:, None])
    inverse = np.linalg.inv(r)
    height = inverse @ (q.T @ (right * weight))
    sd = np.sqrt(np.sum(inverse**2, axis=1))
    redundancy = np.clip(1.0 - np.sum(q**2, axis=1), 0.0, 1.0)
    return Adjusted(
        height_m={**known, **dict(zip(nodes, height.tolist(), strict=True))},
        sd_m={**dict.fromkeys(known, 0.0), **dict(zip(nodes, sd.tolist(), strict=True))},
        residual_m=np.asarray(right - design @ height),
        redundancy=np.where(redundancy < _ALONE, 0.0, redundancy),
        degrees_of_freedom=len(differences) - len(nodes),
    )


def _unknown(differences: tuple[Difference, ...], *, known: Mapping[Node, float]) -> list[Node]:
    ends = (node for difference in differences for node in (difference.upper, difference.lower))
    return [node for node in dict.fromkeys(ends) if node is not None and node not in known]


def components(*, links: list[tuple[Node, Node]]) -> list[set[Node]]:
    """Sets of nodes that the links tie together, in order of first mention."""
    group: dict[Node, set[Node]] = {}
    for one, other in links:
        merged = group.setdefault(one, {one}) | group.setdefault(other, {other})
        group.update(dict.fromkeys(merged, merged))
    return list({id(nodes): nodes for nodes in group.values()}.values())
