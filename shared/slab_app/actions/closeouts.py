"""Closing out a job: what it took beside its quote, and what all jobs say of the firm's figures."""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import date
from functools import partial
from math import hypot
from typing import Any
from uuid import UUID

import msgspec
import numpy as np

from slab_app.actions.left_over import JobMaterial, LeftOver, bring_in, materials_of, told_before
from slab_app.actions.quotes import get_quote
from slab_app.actor import Actor
from slab_app.codec import Encoded, decode
from slab_app.errors import NotFound, QuoteNotOpen
from slab_core.closeout.compare import compare
from slab_core.closeout.coverage import (
    PRIMER,
    Porosity,
    coverage_code,
    coverage_sd,
    of_coverage,
    planned_use,
    propose_coverage,
)
from slab_core.closeout.learn import learn
from slab_core.closeout.model import (
    Actual,
    Comparison,
    EstimatedLine,
    Learned,
    LearnedSlab,
    ProposedValue,
    SlabTold,
)
from slab_core.closeout.propose import COMPOUND, MACHINE, against, planned, propose_rates, propose_waste
from slab_core.closeout.slab_told import OF_THE_SLAB, slab_told
from slab_core.closeout.slabs import learn_slabs
from slab_core.job import Job
from slab_core.materials.model import Catalogue
from slab_core.materials.rates_model import Rates
from slab_core.materials.slab_kinds_model import SlabKind
from slab_core.quote.needed import NEEDED
from slab_core.stages import CHEAPEST
from slab_core.takeoff.codes import TASK
from slab_core.takeoff.model import LineKey
from slab_core.takeoff.stock import FROM_STOCK
from slab_store.closeouts import CloseoutRecord
from slab_store.quotes import QuoteRecord
from slab_store.unit_of_work import UnitOfWork

WORK_UNIT, MACHINE_UNIT = "PH", "mh"
FOLLOWS_THE_SLAB = frozenset({"pins", "prime", "pour", "edges", "polish", f"polish{MACHINE}", "finish"})


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedRates:
    """What jobs say: every kind of work and material that was told of, and the figures they propose."""

    jobs: int
    learned: tuple[Learned, ...]
    rates: tuple[ProposedValue, ...]
    catalogue: tuple[ProposedValue, ...]
    slab_kinds: tuple[SlabKind, ...]
    slabs: tuple[LearnedSlab, ...]


def work_lines(uow: UnitOfWork, actor: Actor, *, quote: UUID) -> tuple[EstimatedLine, ...]:
    """The lines of an accepted quote that a crew can tell of, without money.

    Raises NotFound, QuoteNotOpen.
    """
    accepted = _accepted(uow, actor, id=quote)
    return _estimated(accepted, _job(uow, run=accepted.run))


def job_materials(uow: UnitOfWork, actor: Actor, *, quote: UUID) -> tuple[JobMaterial, ...]:
    """What an accepted quote's job buys or takes from stock, product by product.

    Raises NotFound, QuoteNotOpen.
    """
    return materials_of(_accepted(uow, actor, id=quote))


def add_closeout(
    uow: UnitOfWork,
    actor: Actor,
    *,
    id: UUID,
    quote: UUID,
    crew: str,
    finished_on: date,
    actuals: tuple[Actual, ...],
    left_over: tuple[LeftOver, ...] | None = None,
) -> CloseoutRecord:
    """Record what the job of an accepted quote took; a later one for the same quote replaces it. What is
    `left_over` comes into the firm's store, once; None says nothing of it.

    Raises NotFound, QuoteNotOpen, LeftOverTold, AlreadyExists, slab_core.errors.InputRefused.
    """
    accepted = _accepted(uow, actor, id=quote)
    if left_over is not None:
        # Quotes before the store, as whoever accepts one does: so neither waits for the other for good.
        uow.quotes.locked_rivals(run=accepted.run, job=accepted.job_id)
    job = _job(uow, run=accepted.run)
    estimated = _estimated(accepted, job)
    found = compare(
        estimated=estimated,
        actuals=actuals,
        noise_sd=_noise_sd(job.rates),
        may_be_none=OF_THE_SLAB,
    )
    slab = slab_told(
        rooms=job.rooms,
        scope=job.scope,
        site=job.site,
        may_grind=not job.limits.no_grinding,
        one_plane=CHEAPEST not in (accepted.alternate, job.corrected_as),
        year=finished_on.year,
        estimated=estimated,
        comparison=found,
    )
    codes = {line.key: line.code for line in estimated}
    is_new = left_over is not None and not told_before(uow, quote=quote, left_over=left_over)
    uow.closeouts.add(
        id=id,
        quote=quote,
        crew=crew,
        finished_on=finished_on,
        document={
            "actuals": [asdict(actual) for actual in actuals],
            "comparison": asdict(found),
            "slab": asdict(slab),
            "left_over": None if left_over is None else [one.told() for one in left_over],
        },
        evidence=_evidence(found, codes=codes, job=job),
        actor=actor.name,
        trace_id=actor.trace_id,
    )
    if left_over and is_new:
        bring_in(uow, actor, closeout=id, quote=quote, left_over=left_over)
    return get_closeout(uow, actor, id=id)


def get_closeout(uow: UnitOfWork, _actor: Actor, *, id: UUID) -> CloseoutRecord:
    """The closeout. Raises NotFound."""
    found = uow.closeouts.get(id=id)
    if found is None:
        raise NotFound("there is no closeout with this id")
    return found


def learned_rates(
    uow: UnitOfWork, _actor: Actor, *, crew: str | None, rates: Rates, catalogue: Catalogue
) -> LearnedRates:
    """From the newest closeout of every job, of one crew if given; materials and slabs, whose figures are
    the firm's, are proposed from all crews' jobs.

    Factors are against the figures of now, whatever each job was planned with.
    """
    mine, everyones = uow.closeouts.counting(crew=crew), uow.closeouts.counting(crew=None)
    now = partial(_planned, rates=rates, catalogue=catalogue)
    learned = _learned(mine, now=now, rates=rates)
    work = tuple(each for each in learned if not _is_material(each.code))
    used = tuple(each for each in _learned(everyones, now=now, rates=rates) if _is_material(each.code))
    bags = (
        propose_waste(compound=catalogue.compound, learned=each) for each in used if each.code == COMPOUND
    )
    kinds, slabs = learn_slabs(rates=rates, told=_slabs_told(everyones))
    return LearnedRates(
        jobs=len(mine),
        learned=learned,
        rates=propose_rates(rates=rates, learned=work),
        catalogue=(*filter(None, bags), *propose_coverage(catalogue=catalogue, learned=used)),
        slab_kinds=kinds,
        slabs=slabs,
    )


def _accepted(uow: UnitOfWork, actor: Actor, *, id: UUID) -> QuoteRecord:
    quote = get_quote(uow, actor, id=id)
    if quote.state != "accepted":
        raise QuoteNotOpen(f"quote {quote.number} is {quote.state}; only an accepted one's job is closed out")
    return quote


def _estimated(quote: QuoteRecord, job: Job) -> tuple[EstimatedLine, ...]:
    """Work in person-hours and in hours of its own machine, compound in bags, primer and adhesive in packages
    and parts of them: what crews count."""
    lines = msgspec.json.decode(quote.document)["quote"]["lines"]
    coded = ((line, _counted_as(line, job.site.porosity)) for line in lines)
    return tuple(_line(line, code=code) for line, code in coded if code)


def _counted_as(line: dict[str, Any], porosity: Porosity) -> str:
    """The code that a line is learned by; "" for what nobody counts."""
    code, product = line["key"]["code"], line["key"]["product"]
    if NEEDED in line["trace"]["inputs"] and (
        found := coverage_code(code=code, product=product, porosity=porosity)
    ):
        return found
    if (line["kind"] == "labour" and line["unit"] == WORK_UNIT) or code == COMPOUND:
        return str(code)
    own = code in TASK and product and product == TASK[code].machine
    return f"{code}{MACHINE}" if own and line["unit"] == MACHINE_UNIT else ""


def _line(line: dict[str, Any], *, code: str) -> EstimatedLine:
    return EstimatedLine(
        key=LineKey(**line["key"]).text(),
        code=code,
        kind=line["kind"],
        what=line["what"],
        quantity=_needed(line),
        unit=line["unit"],
    )


def _needed(line: dict[str, Any]) -> float:
    """What is used up of whole packages; else what is to be bought and what was to come from stock, as the
    line's trace tells: a crew uses both."""
    inputs = line["trace"]["inputs"]
    if NEEDED in inputs:
        return float(inputs[NEEDED].split()[0])
    told = inputs.get(FROM_STOCK)
    return float(line["quantity"]) + (float(told.split()[0]) if told else 0.0)


def _job(uow: UnitOfWork, *, run: UUID) -> Job:
    """What was estimated, with the figures it was planned with."""
    kept = uow.runs.input(run_id=run)
    assert kept is not None  # retention never removes what an accepted quote refers to
    return decode(Job, Encoded(json=kept.json, arrays=kept.arrays))


def _evidence(found: Comparison, *, codes: dict[str, str], job: Job) -> list[dict[str, object]]:
    """One ratio for each kind of work of the job, and the figure that it was planned with; absurd lines stand
    alone, so that they spoil no other's. Lines that took nothing say nothing of a rate, and nor does what an
    allowance foretold: that was the slab."""
    sums: defaultdict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    ratios: list[tuple[str, float]] = []
    for line in found.lines:
        code = codes[line.key]
        if line.ratio == 0.0 or (job.basis == "allowance" and _foretold(code)):
            continue
        if line.absurd:
            ratios.append((code, line.ratio))
            continue
        sums[code][0] += line.estimated
        sums[code][1] += line.actual
    ratios += [(code, after / before) for code, (before, after) in sums.items()]
    then = partial(_planned, rates=job.rates, catalogue=job.catalogue)
    return [{"code": code, "ratio": ratio, "planned": then(code=code)} for code, ratio in sorted(ratios)]


def _foretold(code: str) -> bool:
    """Whether an allowance told how much of it there would be."""
    return code in OF_THE_SLAB | FOLLOWS_THE_SLAB or code.startswith(PRIMER)


def _is_material(code: str) -> bool:
    return code == COMPOUND or of_coverage(code)


def _planned(*, code: str, rates: Rates, catalogue: Catalogue) -> float | None:
    """The figure that work or material was planned with; None where there is not one alone."""
    if of_coverage(code):
        return planned_use(code=code, catalogue=catalogue)
    return planned(code=code, rates=rates, compound=catalogue.compound)


def _slabs_told(records: tuple[CloseoutRecord, ...]) -> tuple[SlabTold, ...]:
    """Of the closeouts that tell of a slab; older ones do not."""
    found = (record.document.get("slab") for record in records)
    return tuple(msgspec.convert(slab, SlabTold) for slab in found if slab)


def _learned(
    records: tuple[CloseoutRecord, ...], *, now: Callable[..., float | None], rates: Rates
) -> tuple[Learned, ...]:
    ratios: defaultdict[str, list[float]] = defaultdict(list)
    for record in records:
        for row in record.evidence:
            code = row["code"]
            ratio = against(code=code, ratio=row["ratio"], then=row["planned"], now=now(code=code))
            ratios[code].append(ratio)
    return tuple(
        learn(code=code, ratios=np.array(ratios[code]), noise_sd=_scatter(code, rates))
        for code in sorted(ratios)
    )


def _scatter(code: str, rates: Rates) -> float:
    if of_coverage(code):
        return coverage_sd(code=code, spreads=rates.spreads)
    return _bags_noise_sd(rates) if code == COMPOUND else _noise_sd(rates)


def _noise_sd(rates: Rates) -> float:
    """How far one job's hours scatter about its crew's own pace."""
    return hypot(rates.spreads.labour, rates.spreads.crew)


def _bags_noise_sd(rates: Rates) -> float:
    """How far one job's bags scatter: the yield, and about as much again for the slab."""
    return 2.0 * rates.spreads.bag_yield
