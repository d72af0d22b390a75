"""Quantities as they may come true."""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from slab_core.correction.model import Plan
from slab_core.layout.model import Layout
from slab_core.materials.rates_model import Rates, Spreads
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.pipeline.line import Line, run
from slab_core.rooms.model import Rooms
from slab_core.surface.model import Surface
from slab_core.takeoff.model import QuantityDraws, Takeoff, TakeoffLine
from slab_core.takeoff.take_off import take_off
from slab_core.tolerance.model import ToleranceReport
from tests.sample_jobs import one_room_job

JOB = one_room_job(width_m=4.0, depth_m=5.0, count=60)
NOTHING = Spreads(bag_yield=0, texture=0, grinding=0, primer=0, adhesive=0, labour=0, crew=0)


@cache
def _line() -> Line:
    return run(job=JOB)


def _taken(*, seed: int = JOB.seed, rates: Rates = JOB.rates, known: bool = False) -> Takeoff:
    """The takeoff of the job; with `known`, of a slab without errors."""
    models: dict[str, Any] = {stage: model for (stage, _, _), model in _line().models.items()}
    surface: Surface = models["surface"]
    rooms: Rooms = models["rooms"]
    report: ToleranceReport = models["tolerance"]
    plan: Plan = models["correction"]
    layout: Layout = models["layout"]
    return take_off(
        rooms=rooms, reading_count=60, reports=(report,), plans=(plan,), layouts=(layout,),
        catalogue=JOB.catalogue, covering=JOB.covering, rates=rates, climate=JOB.climate, site=JOB.site,
        scope=JOB.scope, alternate="plane", budget=Budget(), seed=seed,
        surfaces=(replace(surface, error=np.zeros_like(surface.error)) if known else surface,),
    )  # fmt: skip


def _draws(taken: Takeoff) -> QuantityDraws:
    assert taken.draws is not None
    return taken.draws


def _drawn(taken: Takeoff, code: str) -> Floats:
    """Draws of the one line of a code."""
    found = _draws(taken)
    rows = [k for k, at in enumerate(found.line) if taken.lines[at].key.code == code]
    assert len(rows) == 1
    return found.quantity[rows[0]].astype(np.float64)


def _order(taken: Takeoff, code: str) -> TakeoffLine:
    return next(line for line in taken.lines if line.key.code == code)


def test_without_spreads_and_errors_every_draw_is_what_is_planned() -> None:
    taken = _taken(rates=replace(JOB.rates, spreads=NOTHING), known=True)
    found = _draws(taken)
    planned = np.array([taken.lines[at].order for at in found.line])
    np.testing.assert_allclose(found.quantity, planned[:, None] * np.ones_like(found.quantity), rtol=1e-3)
    assert taken.bags_needed is not None
    assert taken.bags_needed.p50 == taken.bags_needed.p95 == _order(taken, "compound").order


def test_bags_are_whole_in_every_draw_and_more_of_them_are_surer() -> None:
    taken = _taken()
    bags = _drawn(taken, "compound")
    assert (bags == np.round(bags)).all()
    needed = taken.bags_needed
    assert needed is not None
    assert needed.p50 <= needed.p80 <= needed.p95
    for asked, share in ((needed.p50, 0.5), (needed.p80, 0.8), (needed.p95, 0.95)):
        assert np.mean(bags <= asked) >= share
        assert np.mean(bags <= asked - 1.0) < share


def test_a_yield_that_scatters_by_so_much_scatters_the_bags_by_as_much() -> None:
    rates = replace(JOB.rates, spreads=replace(NOTHING, bag_yield=0.3))
    bags = _drawn(_taken(rates=rates, known=True), "compound")
    assert np.log(bags).std() == pytest.approx(0.3, rel=0.1)


def test_a_slower_crew_leaves_the_bags_of_every_draw_alone() -> None:
    slow = replace(JOB.rates, spreads=replace(JOB.rates.spreads, labour=0.3, crew=0.2))
    np.testing.assert_array_equal(_drawn(_taken(), "compound"), _drawn(_taken(rates=slow), "compound"))


def test_hours_of_different_work_share_the_crew_and_no_more() -> None:
    def correlation(rates: Rates) -> float:
        found = _draws(taken := _taken(rates=rates))
        rows = {taken.lines[at].key.code: k for k, at in enumerate(found.line)}
        return float(np.corrcoef(np.log(found.quantity[[rows["clean"], rows["verify"]]]))[0, 1])

    spreads = JOB.rates.spreads
    expected = spreads.crew**2 / (spreads.crew**2 + spreads.labour**2)
    assert correlation(JOB.rates) == pytest.approx(expected, abs=0.04)
    alone = replace(JOB.rates, spreads=replace(spreads, crew=0.0))
    assert correlation(alone) == pytest.approx(0.0, abs=0.04)


def test_the_same_seed_gives_the_same_draws_and_another_one_others() -> None:
    np.testing.assert_array_equal(_draws(_taken()).quantity, _draws(_taken()).quantity)
    assert (_draws(_taken()).quantity != _draws(_taken(seed=99)).quantity).any()


def test_trips_follow_the_hours_of_all_work() -> None:
    taken = _taken()
    found = _draws(taken)
    work = sum(
        found.quantity[list(found.line).index(at)] if at in found.line else line.order
        for at, line in enumerate(taken.lines)
        if line.unit == "PH" and line.key.code != "trip"
    )
    rates = JOB.rates
    trips = next(k for k, at in enumerate(found.line) if taken.lines[at].key.text() == "trip/-/0/trip")
    ways = found.quantity[trips]
    plans = [model for (stage, _, _), model in _line().models.items() if stage == "correction"]
    days = np.ceil(work / (rates.people * rates.hours_per_day) - 1e-6)
    assert np.mean(ways == days + plans[0].pour_days) > 0.999
