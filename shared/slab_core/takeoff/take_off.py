"""Everything to buy and do for a job, added up from its plan and its layout."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date

from slab_core.correction.model import Plan
from slab_core.layout.model import Layout
from slab_core.materials.model import Catalogue, Climate, Covering
from slab_core.materials.rates_model import Rates
from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Rooms
from slab_core.scans.model import Scan
from slab_core.surface.model import Surface
from slab_core.takeoff.areas import work_areas
from slab_core.takeoff.board_supplies import board_supplies
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.cautions import cautions
from slab_core.takeoff.codes import TASKS
from slab_core.takeoff.conditions import conditions
from slab_core.takeoff.covering_work import covering_work, whole_job_work
from slab_core.takeoff.direction_orders import direction_orders
from slab_core.takeoff.disposal import disposal_lines, trip_lines
from slab_core.takeoff.done import EarlierWork, done_shares
from slab_core.takeoff.doorways import changed_transitions
from slab_core.takeoff.draws import quantity_draws
from slab_core.takeoff.entries import Effort, effort_lines, supply_line, task_of
from slab_core.takeoff.filling import filling
from slab_core.takeoff.grinding import grinding
from slab_core.takeoff.items import missing_items
from slab_core.takeoff.machines import machine_lines, wear
from slab_core.takeoff.model import Scope, Site, Takeoff, TakeoffLine
from slab_core.takeoff.moisture import Visit, moisture_work, probes, visits
from slab_core.takeoff.prepare import prepare
from slab_core.takeoff.ruling import held, told
from slab_core.takeoff.second_look import second_look
from slab_core.takeoff.slab_supplies import slab_supplies
from slab_core.takeoff.stock import less_stock, stock_problems, usable
from slab_core.takeoff.trim import cut_lists, trim_supplies
from slab_core.takeoff.trowelling import finish_bags, patch_bags, trowelling
from slab_core.tolerance.model import ToleranceReport

_ORDER = {task.code: place for place, task in enumerate(TASKS)}
_KINDS = ("labour", "equipment", "material", "disposal")


def take_off(
    *,
    rooms: Rooms,
    reading_count: int,
    reports: tuple[ToleranceReport, ...],
    plans: tuple[Plan, ...],
    layouts: tuple[Layout, ...],
    catalogue: Catalogue,
    covering: Covering,
    rates: Rates,
    climate: Climate,
    site: Site,
    scope: Scope,
    alternate: str,
    budget: Budget,
    surfaces: tuple[Surface, ...] = (),
    scans: tuple[Scan, ...] = (),
    seed: int = 0,
    finished: frozenset[str] = frozenset(),
    earlier: EarlierWork | None = None,
    begins: date | None = None,
) -> Takeoff:
    """Lines with net, waste and order quantity and where each comes from; tasks for the schedule.

    Compound is rounded to whole bags for each pour, everything else once per material for the job. One
    plan and one layout for each floor. With its surfaces, one for each floor, quantities are drawn by `seed`
    as they may come true. Work whose code is `finished` is left out, with what goes with it; of a job whose
    work goes on, `earlier` tells the shares of its lines that are done. Stock that expires before the job
    `begins` is not used. The person-hours of the tasks are
    those of the labour lines but for the one of trips, which belong to no task.

    Raises
    ------
    KeyError
        a floor has no plan or no layout.
    """
    brief = Brief(
        areas=work_areas(rooms=rooms, plans=plans, layouts=layouts),
        reading_count=reading_count,
        reports=reports,
        plans=plans,
        layouts=layouts,
        catalogue=catalogue,
        covering=covering,
        rates=rates,
        climate=climate,
        site=site,
        scope=scope,
        scans=scans,
        finished=finished,
        begins=begins,
    )
    taken = taken_off(brief=brief, alternate=alternate, budget=budget)
    if earlier is not None:
        shares = done_shares(brief=brief, rooms=rooms, earlier=earlier, take=_plain(alternate, budget))
        taken = replace(taken, done=shares)
    if not surfaces:
        return taken
    draws, bags = quantity_draws(brief=brief, rooms=rooms, surfaces=surfaces, lines=taken.lines, seed=seed)
    return replace(taken, draws=draws, bags_needed=bags)


def _plain(alternate: str, budget: Budget) -> Callable[[Brief], tuple[TakeoffLine, ...]]:
    return lambda brief: taken_off(brief=brief, alternate=alternate, budget=budget).lines


def taken_off(*, brief: Brief, alternate: str, budget: Budget) -> Takeoff:
    """Everything that a brief asks for, without draws."""
    efforts, rounds = _efforts(brief)
    cuts = cut_lists(brief, budget=budget)
    supplies = (
        *slab_supplies(brief),
        *patch_bags(brief),
        *finish_bags(brief),
        *probes(brief, rounds),
        *board_supplies(brief),
        *trim_supplies(brief, cuts),
        *changed_transitions(brief),
        *wear(brief, efforts),
    )
    unordered = (
        *effort_lines(efforts),
        *machine_lines(brief, efforts),
        *trip_lines(brief, efforts),
        *map(supply_line, supplies),
        *disposal_lines(brief),
    )
    lines = less_stock(
        lines=tuple(sorted(unordered, key=_place)), stock=usable(brief.scope.stock, on=brief.begins)
    )
    rulings = conditions(brief)
    problems = (
        *told(rulings),
        *stock_problems(lines=lines, stock=brief.scope.stock, on=brief.begins),
        *missing_items(brief),
        # What is left of a job is no whole job, so it is not weighed as one.
        *(
            ()
            if brief.finished
            else second_look(brief=brief, efforts=efforts, supplies=supplies, lines=lines, rounds=rounds)
        ),
        *cautions(brief=brief, efforts=efforts),
    )
    return Takeoff(
        alternate=alternate,
        lines=lines,
        tasks=tuple(map(task_of, efforts)),
        floor_m2=brief.floor_m2(),
        order_weight_kg=sum(line.weight_kg for line in lines),
        problems=problems,
        holds=held(rulings, finished=brief.finished),
        cut_lists=cuts,
        directions=tuple(direction_orders(brief)),
    )


def _efforts(brief: Brief) -> tuple[tuple[Effort, ...], tuple[Visit, ...]]:
    """All work, in the usual order within each floor and phase, and the rounds of moisture tests in it."""
    efforts = [*prepare(brief), *whole_job_work(brief)]
    for area in brief.areas:
        efforts += [
            *grinding(brief, area),
            *filling(brief, area),
            *trowelling(brief, area),
            *covering_work(brief, area),
        ]
    efforts = [effort for effort in efforts if effort.code not in brief.finished]
    if "moisture-test" in brief.finished:
        return tuple(sorted(efforts, key=_turn)), ()
    rounds = visits(brief, tuple(efforts))
    efforts += moisture_work(brief, rounds)
    return tuple(sorted(efforts, key=_turn)), rounds


def _turn(effort: Effort) -> tuple[float, str, int]:
    """Phase after phase; work of the whole job before the first or after the last, as its code is."""
    order = _ORDER[effort.code]
    whole_job = float("-inf") if order <= _ORDER["survey"] else float("inf")
    return (effort.phase or whole_job, effort.floor, order)


def _place(line: TakeoffLine) -> tuple[int, int, str, str, int, str]:
    order = _ORDER.get(line.key.code, len(_ORDER))
    return (
        _KINDS.index(line.kind),
        order,
        line.key.code,
        line.key.floor,
        line.key.phase,
        line.key.product,
    )
