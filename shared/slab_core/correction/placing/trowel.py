"""Fill that is placed with a trowel: which parts of it are patches and which skims, and what they take."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.connected import beside, parts_of
from slab_core.correction.model import TrowelMethod
from slab_core.correction.nodes import Nodes
from slab_core.correction.placing_costs import PlacingCosts
from slab_core.numerics.grid import Floats, Ints, Mask

_SLACK_MM = 1e-6

LEAST_M2 = 0.02
"""A smaller area is not found again, with a grinder or a trowel (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trowelled:
    """One patch or skim: its nodes, m²·mm, bags really mixed and hours."""

    method: TrowelMethod
    nodes: Ints
    area_m2: float
    m2_mm: float
    greatest_mm: float
    bags: float
    person_hours: float


def is_small(*, nodes: Nodes, part: Ints) -> bool:
    """Whether an area is smaller than anybody works."""
    return bool(nodes.area_m2[part].sum() < LEAST_M2 - 1e-9)


def trowelled(
    *, nodes: Nodes, fill_mm: Floats, part: Ints, placing: PlacingCosts
) -> tuple[Trowelled, ...] | None:
    """The quickest way to trowel one connected part; None if it is too deep or too wide.

    A small one is one patch, a shallow one one skim. Of a wide one with deep places those are patched and the
    rest is skimmed over.
    """
    if fill_mm[part].max() > placing.greatest_depth_mm + _SLACK_MM:
        return None
    ways = [
        way
        for way in (
            _one_patch(nodes=nodes, fill_mm=fill_mm, part=part, placing=placing),
            _skim_over_patches(nodes=nodes, fill_mm=fill_mm, part=part, placing=placing),
        )
        if way is not None
    ]
    return min(ways, key=lambda way: sum(one.person_hours for one in way), default=None)


def _one_patch(
    *, nodes: Nodes, fill_mm: Floats, part: Ints, placing: PlacingCosts
) -> tuple[Trowelled, ...] | None:
    if nodes.area_m2[part].sum() > placing.greatest_patch_m2:
        return None
    return (_made("patch", nodes=nodes, fill_mm=fill_mm, part=part, placing=placing),)


def _skim_over_patches(
    *, nodes: Nodes, fill_mm: Floats, part: Ints, placing: PlacingCosts
) -> tuple[Trowelled, ...] | None:
    deep = np.zeros(len(nodes.z_mm), dtype=np.bool_)
    deep[part] = fill_mm[part] > placing.greatest_skim_mm + _SLACK_MM
    patches = parts_of(nodes=nodes, where=deep)
    rest = part[~deep[part]]
    if patches and any(is_small(nodes=nodes, part=one) for one in (*patches, rest) if len(one)):
        deep = _patched(nodes=nodes, fill_mm=fill_mm, deep=deep, part=part, placing=placing)
        patches, rest = parts_of(nodes=nodes, where=deep), part[~deep[part]]
    if any(nodes.area_m2[patch].sum() > placing.greatest_patch_m2 for patch in patches):
        return None
    if nodes.area_m2[rest].sum() > placing.greatest_skim_m2:
        return None
    made = [_made("patch", nodes=nodes, fill_mm=fill_mm, part=patch, placing=placing) for patch in patches]
    if len(rest):
        made.append(_made("skim", nodes=nodes, fill_mm=fill_mm, part=rest, placing=placing))
    return tuple(made)


def _patched(*, nodes: Nodes, fill_mm: Floats, deep: Mask, part: Ints, placing: PlacingCosts) -> Mask:
    """The deep nodes with as many of the deepest around them as make patches large enough to work, and with
    a rest that is too small for a skim; as they are where a patch gets too wide so."""
    wider = deep.copy()
    for patch in parts_of(nodes=nodes, where=deep):
        while is_small(nodes=nodes, part=patch):
            around = beside(nodes=nodes, part=patch)
            around = around[np.isin(around, part)]
            if not len(around):
                break
            patch = np.append(patch, around[int(np.argmax(fill_mm[around]))])
        wider[patch] = True
    rest = part[~wider[part]]
    if is_small(nodes=nodes, part=rest):
        wider[rest] = True
    widest = max(nodes.area_m2[patch].sum() for patch in parts_of(nodes=nodes, where=wider))
    return wider if widest <= placing.greatest_patch_m2 else deep


def _made(
    method: TrowelMethod, *, nodes: Nodes, fill_mm: Floats, part: Ints, placing: PlacingCosts
) -> Trowelled:
    area, depth = nodes.area_m2[part], fill_mm[part]
    area_m2, m2_mm = float(area.sum()), float(area @ depth)
    bags = placing.bags(m2_mm=m2_mm, m2=area_m2)
    hours = (
        placing.ph_per_patch + placing.ph_per_bag * bags
        if method == "patch"
        else placing.ph_per_skim_m2 * area_m2
    )
    return Trowelled(
        method=method,
        nodes=part,
        area_m2=area_m2,
        m2_mm=m2_mm,
        greatest_mm=float(depth.max()),
        bags=bags,
        person_hours=hours,
    )
