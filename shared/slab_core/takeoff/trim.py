"""Transition strips, new base and quarter round: what is cut from which sticks, and what is bought for it."""

from collections.abc import Iterator
from dataclasses import replace

from slab_core.materials.model import Item
from slab_core.numerics.budget import Budget
from slab_core.takeoff.base_runs import base_runs
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.codes import BASE, QUARTER_ROUND, TRANSITION
from slab_core.takeoff.entries import LEFT_OVER, Supply, m
from slab_core.takeoff.model import CutList
from slab_core.takeoff.sticks import Run, cut_list, sticks_of

_LENGTHS_TOLD = 6


def cut_lists(brief: Brief, *, budget: Budget) -> tuple[CutList, ...]:
    """One for each kind of strip that the layout calls for and the catalogue has, and one each for new base
    and quarter round, which both run along the walls."""
    rules = brief.rates.trim
    strips = [strip for area in brief.areas for strip in area.transitions]
    lists = []
    for kind in sorted({strip.kind for strip in strips}):
        if stocks := _stocks(brief, kind):
            runs = tuple(Run(where=s.opening, length_m=s.length_m) for s in strips if s.kind == kind)
            lists.append(
                cut_list(item=kind, stocks=stocks, runs=runs, overlap_m=0.0, rules=rules, budget=budget)
            )
    runs = tuple(
        run
        for area in brief.areas
        for room in area.rooms
        for run in base_runs(room=room, mitre_m=rules.mitre_allowance_m)
    )
    for item, is_wanted in ((BASE, brief.scope.base_new), (QUARTER_ROUND, brief.scope.quarter_round)):
        if is_wanted and runs and (stocks := _stocks(brief, item)):
            cuts = cut_list(
                item=item,
                stocks=stocks,
                runs=runs,
                overlap_m=rules.scarf_overlap_m,
                rules=rules,
                budget=budget,
            )
            lists.append(replace(cuts, spare_sticks=rules.spare_sticks))
    return tuple(lists)


def _stocks(brief: Brief, id: str) -> tuple[Item, ...]:
    """The item of this id, which every other stock length names."""
    if brief.item(id) is None:
        return ()
    return tuple(item for item in brief.catalogue.items if id in (item.id, item.other_length_of))


def trim_supplies(brief: Brief, lists: tuple[CutList, ...]) -> Iterator[Supply]:
    """Sticks to buy; spares are of the product with the most sticks."""
    for cuts in lists:
        sticks = sticks_of(cuts)
        most = max(sticks, key=lambda product: sticks[product])
        for product, count in sorted(sticks.items()):
            spare = cuts.spare_sticks if product == most else 0
            yield _supply(brief, cuts, product=product, count=count, spare=spare)


def _supply(brief: Brief, cuts: CutList, *, product: str, count: int, spare: int) -> Supply:
    item = brief.item(product)
    assert item is not None
    pieces = [piece for stick in cuts.sticks if stick.product == product for piece in stick.pieces]
    net = sum(piece.length_m for piece in pieces)
    along_walls = cuts.item in (BASE, QUARTER_ROUND)
    kept = _kept(cuts, product=product, least_m=brief.rates.trim.least_piece_m)
    proof = "proven" if cuts.proven else f"at least {m(cuts.bound_m)} of {m(cuts.bought_m)} is needed"
    return Supply(
        code=cuts.item if along_walls else TRANSITION,
        product=product,
        name=item.name,
        package=item.package,
        net=net,
        waste_share=count * item.package.size / net - 1.0,
        packages=count + spare,
        left_over=sum(kept) + spare * item.package.size,
        formula="pieces cut from sticks with the least length bought" + (" + spare sticks" if spare else ""),
        inputs={
            **{piece.where: m(piece.length_m) for piece in pieces},
            "sticks": str(count),
            **({"spare": f"{spare} sticks"} if spare else {}),
            "least": proof,
            LEFT_OVER: _told(kept, spare=spare, least_m=brief.rates.trim.least_piece_m),
        },
        stage="rooms" if along_walls else "layout",
    )


def _kept(cuts: CutList, *, product: str, least_m: float) -> tuple[float, ...]:
    """What is left of sticks of a product and long enough to be a piece of another job, longest first."""
    lefts = (stick.left_m for stick in cuts.sticks if stick.product == product)
    return tuple(sorted((left for left in lefts if left >= least_m), reverse=True))


def _told(kept: tuple[float, ...], *, spare: int, least_m: float) -> str:
    """Every length where there are few, else the longest ones."""
    lengths = ", ".join(m(left) for left in kept[:_LENGTHS_TOLD])
    more = f" and {len(kept) - _LENGTHS_TOLD} shorter ones" if len(kept) > _LENGTHS_TOLD else ""
    pieces = f"{lengths}{more}" if kept else f"no piece of {m(least_m)} or longer"
    return f"{pieces}; spare sticks: {spare}" if spare else pieces
