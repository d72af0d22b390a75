"""From what jobs used of primer and adhesive to the coverages that foretell it."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from slab_core.closeout.coverage import (
    Porosity,
    coverage_code,
    coverage_sd,
    of_coverage,
    planned_use,
    propose_coverage,
)
from slab_core.closeout.learn import learn
from slab_core.closeout.model import Learned
from slab_core.closeout.propose import against
from slab_core.materials import starter
from slab_core.materials.model import Catalogue
from slab_core.materials.rates_model import Spreads
from slab_core.quote.needed import NEEDED, needed_input
from slab_core.takeoff.model import TakeoffLine
from tests.takeoff_jobs import whole_job

CATALOGUE = starter.catalogue()
CODES = {
    "primer": f"primer-porous/{CATALOGUE.primer.id}",
    "adhesive": f"adhesive/{CATALOGUE.adhesive.id}",
}


def _learned(code: str, factor: float) -> Learned:
    return Learned(code=code, jobs=5, left_out=0, factor=factor, low=factor / 1.1, high=factor * 1.1)


def _with(catalogue: Catalogue, field: str, value: float) -> Catalogue:
    product, _, name = field.partition(".")
    changed: dict[str, Any] = {name: value}
    return replace(catalogue, **{product: replace(getattr(catalogue, product), **changed)})


def _line(code: str, catalogue: Catalogue = CATALOGUE) -> TakeoffLine:
    (line,) = [each for each in whole_job(catalogue=catalogue).lines if each.key.code == code]
    return line


@pytest.mark.parametrize("code", ["primer", "adhesive"])
def test_planning_with_the_proposed_coverage_foretells_what_was_used(code: str) -> None:
    (proposal,) = propose_coverage(catalogue=CATALOGUE, learned=(_learned(CODES[code], 1.25),))
    assert proposal.before / proposal.after == pytest.approx(1.25)
    better = _with(CATALOGUE, proposal.field, proposal.after)
    assert _line(code, better).net == pytest.approx(1.25 * _line(code).net)
    then, now = (planned_use(code=CODES[code], catalogue=each) for each in (CATALOGUE, better))
    assert against(code=CODES[code], ratio=1.25, then=then, now=now) == pytest.approx(1.0)


@pytest.mark.parametrize("code", ["primer", "adhesive"])
def test_a_quoted_line_tells_how_much_of_whole_packages_is_used(code: str) -> None:
    line = _line(code)
    litres = (CATALOGUE.primer if code == "primer" else CATALOGUE.adhesive).package.size
    told = float(needed_input(line)[NEEDED].split()[0])
    assert told * litres == pytest.approx(line.net * (1.0 + line.waste_share), abs=1e-3)
    assert told < line.order
    assert needed_input(replace(line, left_over=0.0)) == {}


def test_primer_is_told_apart_by_porosity_and_both_by_product() -> None:
    slabs: tuple[Porosity, ...] = ("porous", "dense")
    found = {
        coverage_code(code=code, product="a", porosity=porosity)
        for code in ("primer", "adhesive", "compound")
        for porosity in slabs
    }
    assert found == {"primer-porous/a", "primer-dense/a", "adhesive/a", ""}
    assert all(of_coverage(code) for code in found if code)
    other = (_learned("adhesive/another", 1.3), _learned("primer-dense/another", 1.3))
    assert propose_coverage(catalogue=CATALOGUE, learned=other) == ()
    assert planned_use(code="adhesive/another", catalogue=CATALOGUE) is None


def test_jobs_move_the_coverage_by_their_precision_and_one_absurd_entry_moves_it_not_at_all() -> None:
    """Two jobs at 1.1 with a scatter s beside a prior of sd p: the logarithm's mean is 2 ln 1.1 / s² over
    2 / s² + 1 / p², as little as they scatter."""
    code, spreads = CODES["adhesive"], Spreads()
    sd = coverage_sd(code=code, spreads=spreads)
    assert sd == pytest.approx(2 * spreads.adhesive)
    calm = learn(code=code, ratios=np.array([1.1, 1.1]), noise_sd=sd)
    plain = 2 / sd**2 / (2 / sd**2 + 1 / 0.25**2)
    assert np.log(calm.factor) / np.log(1.1) == pytest.approx(plain, rel=0.03)
    odd = learn(code=code, ratios=np.array([1.1, 1.1, 11.0]), noise_sd=sd)
    assert odd.left_out == 1
    assert odd.factor == pytest.approx(calm.factor)
