"""The runner of benchmarks: which run, what is kept, what is held against which bound."""

from pathlib import Path

import pytest

from tests.benchmarks.measure import Bench, Figure, found_benchmarks, may_measure, measure, measures
from tests.benchmarks.table import read_bounds, row, verdict


def figure(name: str, value: float = 1.0) -> Figure:
    return Figure(name=name, value=value, unit="s", peer=None, peer_value=None, n=20, memory_mb=None)


def bench(*names: str) -> Bench:
    return lambda: [figure(name) for name in names]


@pytest.mark.parametrize(
    ("wanted", "runs"),
    [
        ([], True),
        (["surface."], True),
        (["surface.500.rmse"], True),
        (["scan."], False),
        (["scan.", "surface"], True),
    ],
)
def test_a_benchmark_runs_when_one_of_its_figures_may_be_wanted(wanted: list[str], runs: bool) -> None:
    assert may_measure(measures("surface.500.")(bench()), wanted=wanted) == runs
    assert may_measure(bench(), wanted=wanted)


def test_only_the_wanted_figures_are_given() -> None:
    given = measure(iter([bench("a.x", "b.x"), bench("a.y")]), wanted=["a."])
    assert [found["name"] for found in given] == ["a.x", "a.y"]


def test_a_figure_of_another_form_is_refused() -> None:
    with pytest.raises(ValueError, match="gave a figure with the parts"):
        list(measure(iter([lambda: [{"name": "a"}]]), wanted=[]))  # type: ignore[typeddict-item]  # on purpose


def test_benchmarks_are_found_in_the_order_of_their_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "found_here"
    folder.mkdir()
    for name in ("b", "a"):
        (folder / f"bench_{name}.py").write_text(
            f"def bench_{name}(): return []\ndef other(): raise ValueError\n"
        )
    monkeypatch.syspath_prepend(str(tmp_path))
    found = found_benchmarks(folder=folder, package="found_here")
    assert [one.__name__ for one in found] == ["bench_a", "bench_b"]


def test_bounds_are_read_across_sections_and_judged(tmp_path: Path) -> None:
    path = tmp_path / "figures.toml"
    path.write_text('[line]\n"a.s" = { at_most = 0.7 }\n[other]\n"b.x" = { at_least = 2, at_most = 3 }\n')
    bounds = read_bounds(path)
    assert verdict(figure("a.s", 0.7), bounds["a.s"]) == "holds (at most 0.7)"
    assert verdict(figure("a.s", 0.71), bounds["a.s"]) == "MISSES (at most 0.7)"
    assert verdict(figure("b.x", 1.9), bounds["b.x"]) == "MISSES (at least 2, at most 3)"
    assert verdict(figure("c"), None) == ""
    assert row(figure("a.s", 0.5), bounds["a.s"]).split() == [
        "a.s",
        "0.5",
        "s",
        "n=20",
        "-",
        "-",
        "holds",
        "(at",
        "most",
        "0.7)",
    ]
