"""Setups tied together: hand-made loops, what is refused, and what is only said."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.errors import InputRefused
from slab_core.surveys.model import (
    Benchmark,
)
from tests.unit.slab_core.surveys.networks import (
    BM,
    BM2,
    heights,
    levels,
    network,
    rods,
    said,
    survey,
)


def test_one_setup_stands_its_rod_reading_above_the_benchmark() -> None:
    result = network(survey(("a", "bm", 1.5), setups="a"))
    assert heights(result) == {"a": 11.5}
    assert result.setup_heights[0].sd_m == 0.0007
    assert [(c.residual_m, c.expected_sd_m) for c in result.closures] == [(0.0, 0.0)]
    assert (result.problems, result.reading_count, result.largest_closure_m) == ((), 1, 0.0)


def test_a_turning_point_carries_the_height_to_the_next_setup() -> None:
    result = network(survey(("a", "bm", 1.5), ("a", "tp", 1.1), ("b", "tp", 1.3)))
    assert heights(result) == {"a": 11.5, "b": 11.7}
    assert result.setup_heights[1].sd_m == pytest.approx(0.0007 * np.sqrt(3), abs=1e-6)


def test_a_turning_point_ties_setups_of_different_surveys() -> None:
    first = survey(("a", "bm", 1.5), ("a", "tp", 1.1), setups="a")
    second = replace(survey(("b", "tp", 1.3), setups="b"), id="t")
    assert heights(network(first, second)) == {"a": 11.5, "b": 11.7}


def test_a_loop_closes_by_spreading_its_error_and_reports_it() -> None:
    # bm -> tp by a, tp -> bm by b: 2 mm over four equal sights, 0.5 mm each.
    result = network(survey(("a", "bm", 1.5), ("a", "tp", 1.1), ("b", "tp", 1.3), ("b", "bm", 1.698)))
    assert heights(result) == {"a": 11.5 - 0.0005, "b": 11.7 - 0.0015}
    assert [c.residual_m for c in result.closures] == pytest.approx([0.0005, -0.0005, 0.0005, -0.0005])
    assert [c.expected_sd_m for c in result.closures] == pytest.approx([0.0007 / 2] * 4)
    assert result.largest_closure_m == pytest.approx(0.0005)
    assert result.problems == ()


def test_two_benchmarks_that_disagree_are_refused_with_the_amount_in_both_units() -> None:
    # bm2 is 0.25 up, so its rod should read 1.25; it reads 12.7 mm more.
    result = network(survey(("a", "bm", 1.5), ("a", "bm2", 1.2627), setups="a"), benchmarks=(BM, BM2))
    (problem,) = said(result, "benchmarks-disagree")
    assert (problem.severity, problem.pointer) == ("refusal", "/surveys/0/sights/0")
    assert '12.7 mm (1/2")' in problem.detail
    assert "3.3 mm" in problem.detail
    assert "“bm”" in problem.detail
    assert "“bm2”" in problem.detail
    assert heights(result)["a"] == pytest.approx(11.50635)


def test_benchmarks_that_disagree_within_their_accuracy_are_averaged() -> None:
    marks = (replace(BM, sd_m=0.01), replace(BM2, sd_m=0.01))
    result = network(survey(("a", "bm", 1.5), ("a", "bm2", 1.2627), setups="a"), benchmarks=marks)
    assert said(result, "benchmarks-disagree") == []
    assert heights(result)["a"] == pytest.approx(11.50635)


def test_of_three_benchmarks_the_wrong_one_is_named_alone_with_its_full_error() -> None:
    marks = (BM, BM2, Benchmark(id="bm3", elevation_m=10.1))
    sights = (("a", "bm", 1.5), ("a", "bm2", 1.25), ("a", "bm3", 1.43))
    (problem,) = said(network(survey(*sights, setups="a"), benchmarks=marks), "benchmarks-disagree")
    assert problem.pointer == "/surveys/0/sights/2"
    assert "30.0 mm" in problem.detail
    assert "“bm2”" not in problem.detail


def test_a_benchmark_of_stated_accuracy_that_is_wrong_is_named() -> None:
    marks = (BM, BM2, Benchmark(id="bm3", elevation_m=10.13, sd_m=0.0002))
    sights = (("a", "bm", 1.5), ("a", "bm2", 1.25), ("a", "bm3", 1.4), ("a", "bm3", 1.4))
    (problem,) = said(network(survey(*sights, setups="a"), benchmarks=marks), "benchmarks-disagree")
    assert problem.pointer == "/benchmarks/2"
    assert "30.0 mm" in problem.detail


def test_a_loop_that_does_not_close_is_refused_with_its_setups_named() -> None:
    # bm -> tp by a, tp -> bm by b: four sights of 0.7 mm allow 3.29 · 0.7 · 2 = 4.6 mm; this misses 6 mm.
    loop = (("a", "bm", 1.5), ("a", "tp", 1.1), ("b", "tp", 1.3), ("b", "bm", 1.694))
    result = network(survey(*loop))
    (problem,) = said(result, "benchmarks-disagree")
    assert (problem.severity, problem.pointer) == ("refusal", "/surveys/0/sights/0")
    assert "by 6.0 mm" in problem.detail
    assert "allows 4.6 mm" in problem.detail
    assert "re-shoot setup “a” or “b”" in problem.detail
    assert result.largest_closure_m == pytest.approx(0.0015)


def test_of_a_loop_with_a_spare_sight_the_setup_that_is_wrong_is_named_alone() -> None:
    right = (("a", "bm", 1.5), ("a", "tp", 1.1), ("b", "tp", 1.3), ("b", "bm", 1.7))
    more = (("c", "bm", 1.6), ("c", "tp", 1.206), ("c", "bm2", 1.35), ("a", "bm2", 1.25), ("b", "bm2", 1.45))
    result = network(survey(*right, *more, setups="abc"), benchmarks=(BM, BM2))
    (problem,) = said(result, "benchmarks-disagree")
    assert problem.pointer == "/surveys/0/sights/5"
    assert "re-shoot setup “c”, " in problem.detail


def test_a_loop_that_closes_poorly_is_told_and_its_heights_are_used() -> None:
    # 4.2 mm lies between the 3.6 mm that 99 % allow and the 4.6 mm of 99.9 %.
    result = network(survey(("a", "bm", 1.5), ("a", "tp", 1.1), ("b", "tp", 1.3), ("b", "bm", 1.6958)))
    (problem,) = said(result, "network-closes-poorly")
    assert (problem.severity, problem.pointer) == ("finding", "/surveys/0/sights/0")
    assert "allows 3.6 mm" in problem.detail
    assert "re-shoot setup “a” or “b”" in problem.detail
    assert len(result.setup_heights) == 2


def test_many_sights_that_are_each_a_little_off_are_refused_for_all_of_them_together() -> None:
    # Twelve benchmarks, each 1.7 mm off: no single sight is beyond 99.9 %, all of them are.
    marks = tuple(Benchmark(id=f"m{k}", elevation_m=10.0) for k in range(12))
    sights = tuple(("a", f"m{k}", 1.5 + 0.0017 * (-1) ** k) for k in range(12))
    (problem,) = said(network(survey(*sights, setups="a"), benchmarks=marks), "benchmarks-disagree")
    assert "2.5 times what their accuracy explains" in problem.detail
    assert "re-shoot setup “a”" in problem.detail


def test_sound_networks_are_refused_and_told_as_seldom_as_is_stated_and_a_slip_is_found() -> None:
    random = np.random.default_rng(11)
    legs = (("a", "bm", 1.5), ("a", "tp", 1.1), ("b", "tp", 1.3), ("b", "bm", 1.7), ("b", "bm2", 1.45))
    every = (*legs, ("c", "tp", 1.2), ("c", "bm2", 1.35), ("c", "bm", 1.6))
    refused = told = found = 0
    count = 3000
    for _ in range(count):
        noise = random.normal(0.0, 0.0007, len(every))
        sights = [(s, t, rod + extra) for (s, t, rod), extra in zip(every, noise, strict=True)]
        result = network(survey(*sights, setups="abc"), benchmarks=(BM, BM2))
        refused += bool(said(result, "benchmarks-disagree"))
        told += bool(said(result, "network-closes-poorly"))
    # Two tests at 0.1 % (1 %) each: at most 6 (60) are expected; five standard deviations more is 18 (98).
    assert refused <= 18
    assert 15 <= told <= 98
    for _ in range(100):
        noise = random.normal(0.0, 0.0007, len(every))
        sights = [(s, t, rod + extra) for (s, t, rod), extra in zip(every, noise, strict=True)]
        sights[4] = (*sights[4][:2], sights[4][2] + 0.01)
        problems = said(network(survey(*sights, setups="abc"), benchmarks=(BM, BM2)), "benchmarks-disagree")
        found += [problem.pointer for problem in problems] == ["/surveys/0/sights/4"]
    # A centimetre is 9 standard deviations of the sight's own residual and more.
    assert found >= 95


def test_one_setup_read_from_and_tied_to_nothing_is_refused_by_name() -> None:
    result = network(survey(("a", "bm", 1.5)))
    (problem,) = said(result, "setup-untied")
    assert (problem.severity, problem.pointer) == ("refusal", "/surveys/0/setups/1")
    assert "“b”" in problem.detail
    assert heights(result) == {"a": 11.5}


def test_a_setup_nobody_read_from_is_only_a_finding() -> None:
    result = network(survey(("a", "bm", 1.5), readings=(rods([1.0], [1.0], [1.4]),)))
    assert [problem.code for problem in result.problems] == ["setup-unused"]


def test_without_benchmarks_the_first_setup_is_the_datum_and_says_so() -> None:
    result = network(survey(("a", "tp", 1.1), ("b", "tp", 1.3)), benchmarks=())
    assert heights(result) == {"a": 0.0, "b": 0.2}
    (problem,) = result.problems
    assert (problem.code, problem.severity) == ("datum-from-setup", "finding")


def test_without_benchmarks_a_second_setup_that_shares_no_point_is_refused() -> None:
    result = network(survey(), benchmarks=())
    assert [(p.code, p.pointer) for p in result.problems] == [
        ("datum-from-setup", "/surveys/0/setups/0"),
        ("setup-untied", "/surveys/0/setups/1"),
    ]


def test_elevations_have_a_datum_that_a_free_setup_must_not_invent() -> None:
    both = survey(setups="a", readings=(rods([1.0], [1.0], [1.4]), levels([2.0], [2.0], [10.1])))
    assert [p.code for p in network(both, benchmarks=()).problems] == ["setup-untied"]


def test_a_point_seen_once_is_a_finding_since_its_name_may_be_a_slip() -> None:
    result = network(survey(("a", "bm", 1.5), ("a", "mb", 1.1), setups="a"))
    assert [(p.code, p.pointer) for p in result.problems] == [
        ("turning-point-seen-once", "/surveys/0/sights/1/target")
    ]


def test_an_unsound_survey_is_refused_before_anything_is_computed() -> None:
    with pytest.raises(InputRefused):
        network(survey(("z", "bm", 1.5), setups="a"))


def test_setup_heights_are_rounded_to_a_thousandth_of_a_millimetre() -> None:
    result = network(survey(("a", "bm", 1.123456789), setups="a"))
    assert heights(result) == {"a": 11.123457}


@settings(max_examples=40, deadline=None)
@given(st.floats(-1.0, 1.0), st.lists(st.floats(-0.001, 0.001), min_size=5, max_size=5))
def test_a_longer_rod_moves_no_height_above_the_datum(constant: float, noise: list[float]) -> None:
    base = (("a", "bm", 1.5), ("a", "tp", 1.1), ("b", "tp", 1.3), ("b", "bm", 1.7), ("b", "bm2", 1.45))
    for_all = [(s, t, rod + extra) for (s, t, rod), extra in zip(base, noise, strict=True)]
    longer = [(s, t, rod + constant) for s, t, rod in for_all]
    before = network(survey(*for_all), benchmarks=(BM, BM2))
    after = network(survey(*longer), benchmarks=(BM, BM2))
    # Setups rise by the constant, and so does every rod reading taken off them: floors stay.
    moved = [
        after_h.height_m - before_h.height_m
        for before_h, after_h in zip(before.setup_heights, after.setup_heights, strict=True)
    ]
    assert moved == pytest.approx([constant] * 2, abs=2e-6)
    assert [c.residual_m for c in after.closures] == pytest.approx(
        [c.residual_m for c in before.closures], abs=1e-9
    )
