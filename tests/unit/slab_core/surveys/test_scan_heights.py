"""The height of scans: by targets, by readings of a level, by each other."""

import numpy as np
import pytest

from slab_core.scans.model import Scan, ScanHeight
from slab_core.surveys.model import Network, Setup, Survey
from slab_core.surveys.observe import observations
from slab_core.surveys.scan_observations import scan_error_m, with_scans
from tests.unit.slab_core.surveys.scanned_floors import (
    WIDTH_M,
    Adjusted,
    a_site,
    adjusted,
    marks,
    points_of,
    read_by_level,
)

SITE = a_site()
FLOOR = SITE.rooms.floors[0]


def scan(id_: str = "s", **facts: object) -> Scan:
    return Scan(id=id_, sha256=id_, file="", **facts)  # type: ignore[arg-type]  # passed on


def height_of(found: Adjusted, id_: str = "s") -> ScanHeight:
    return next(height for height in found.network.scans if height.scan == id_)


def codes(network: Network) -> list[str]:
    return [problem.code for problem in network.problems]


def misses(found: Adjusted) -> np.ndarray:
    """By how much the observations of the floor that come from scans miss the truth, in metres."""
    seen = observations(floor=FLOOR, surveys=found.surveys, network=found.network)
    whole = with_scans(
        seen, floor_id=FLOOR.id, surveys=found.surveys, network=found.network, reduced=found.reduced
    )
    own = slice(len(seen.value_m), None)
    return np.asarray(whole.value_m[own] - SITE.slab.height(whole.x_m[own, 0], whole.y_m[own, 0]))


def test_a_scan_that_nothing_ties_is_the_datum_and_says_so() -> None:
    found = adjusted(SITE, {"s": points_of(SITE)}, [scan()])
    assert (height_of(found).offset_m, height_of(found).readings) == (0.0, 0)
    assert codes(found.network) == ["scan-is-datum"]
    assert np.abs(misses(found)).max() < 0.001


def test_targets_give_a_height_that_is_sure_to_the_scanners_bias_alone() -> None:
    found = adjusted(SITE, {"s": points_of(SITE)}, [scan(targets=marks())])
    assert codes(found.network) == []
    assert height_of(found).sd_m == pytest.approx(0.0015, abs=1e-5)
    assert height_of(found).target_rms_m == pytest.approx(0.0, abs=1e-9)
    assert scan_error_m(floor_id=FLOOR.id, network=found.network, reduced=found.reduced) == 0.0015


def test_readings_by_level_decide_the_height_and_the_offset_is_told() -> None:
    level = read_by_level(SITE, count=12)
    found = adjusted(SITE, {"s": points_of(SITE, off_m=0.0021)}, [scan(targets=marks())], level)
    height = height_of(found)
    assert height.readings == 12
    assert height.offset_m == pytest.approx(-0.0021, abs=3 * height.sd_m)
    assert height.sd_m < 0.0005
    assert abs(float(misses(found).mean())) < 3 * height.sd_m
    assert codes(found.network) == []


def test_a_scan_in_its_own_heights_is_brought_to_those_of_the_level() -> None:
    found = adjusted(SITE, {"s": points_of(SITE, off_m=-1.62)}, [scan()], read_by_level(SITE, count=8))
    height = height_of(found)
    assert height.offset_m == pytest.approx(1.62, abs=3 * height.sd_m)
    assert "scan-is-datum" not in codes(found.network)


def test_a_misread_decides_no_height() -> None:
    level = read_by_level(SITE, count=9)
    level.readings[0].value_m[3] += 0.1
    found = adjusted(SITE, {"s": points_of(SITE, off_m=0.3)}, [scan()], level)
    assert height_of(found).readings == 8
    assert height_of(found).offset_m == pytest.approx(-0.3, abs=0.002)


def test_ten_readings_show_a_scans_own_scatter_and_fewer_leave_the_bias_as_stated() -> None:
    good = adjusted(SITE, {"s": points_of(SITE)}, [scan()], read_by_level(SITE, count=40))
    assert 0.0 < height_of(good).bias_m < 0.0007
    few = adjusted(SITE, {"s": points_of(SITE)}, [scan()], read_by_level(SITE, count=9))
    assert height_of(few).bias_m == 0.0015
    wavy = points_of(SITE)
    wavy[:, 2] += 0.004 * np.sin(2 * np.pi * wavy[:, 0] / 2.0)
    bad = adjusted(SITE, {"s": wavy}, [scan()], read_by_level(SITE, count=40))
    assert height_of(bad).bias_m == pytest.approx(0.004 / np.sqrt(2), rel=0.25)


def test_no_height_of_a_scan_is_surer_than_its_bias_however_many_points_it_has() -> None:
    found = adjusted(SITE, {"s": points_of(SITE)}, [scan(bias_sd_m=0.002)])
    seen = observations(floor=FLOOR, surveys=found.surveys, network=found.network)
    whole = with_scans(
        seen, floor_id=FLOOR.id, surveys=found.surveys, network=found.network, reduced=found.reduced
    )
    assert 5_000 < len(whole.value_m) < 40_000
    assert whole.sd_m.min() >= 0.002


def test_two_scans_meet_where_both_show_the_floor_and_the_step_is_told() -> None:
    files = {
        "left": points_of(SITE, part=(0.0, 2.4)),
        "right": points_of(SITE, part=(1.6, WIDTH_M), off_m=0.003, seed=7),
    }
    found = adjusted(SITE, files, [scan("left", targets=marks()), scan("right")])
    (met,) = height_of(found, "left").overlaps
    assert (met.scan, met.floor_id) == ("right", FLOOR.id)
    assert met.offset_m == pytest.approx(0.003, abs=1e-4)
    assert met.rms_m < 0.0005
    assert met.cells > 1000
    assert height_of(found, "right").offset_m == pytest.approx(-0.003, abs=1e-4)
    assert float(np.abs(misses(found)).mean()) < 0.0005


def test_targets_that_the_levels_contradict_are_told_and_the_levels_decide() -> None:
    level = read_by_level(SITE, count=20, add_m=0.02)
    found = adjusted(SITE, {"s": points_of(SITE)}, [scan(targets=marks())], level)
    assert codes(found.network) == ["scan-height-moved"]
    assert found.network.problems[0].pointer == "/surveys/0/scans/0"
    assert height_of(found).offset_m == pytest.approx(0.02, abs=0.002)


def test_scans_that_show_different_floors_are_told_of() -> None:
    files = {"one": points_of(SITE), "two": points_of(SITE, seed=9)}
    wavy = files["two"]
    wavy[:, 2] += 0.015 * np.sin(2 * np.pi * wavy[:, 1] / 1.5)
    found = adjusted(SITE, files, [scan("one", targets=marks()), scan("two", targets=marks())])
    assert codes(found.network) == ["scans-disagree"]
    assert "“one” and “two”" in found.network.problems[0].detail


def test_without_a_benchmark_the_levels_line_of_sight_stays_the_datum() -> None:
    level = read_by_level(SITE, count=8)
    readings = level.readings[0]
    rod = Survey(
        id="rod",
        setups=(Setup(id="A"),),
        readings=(
            type(readings)(
                kind="rod",
                x_m=readings.x_m,
                y_m=readings.y_m,
                value_m=1.4 - readings.value_m,
                setup=np.zeros(8, dtype=np.int32),
                sd_m=readings.sd_m,
                position_sd_m=readings.position_sd_m,
            ),
        ),
    )
    found = adjusted(SITE, {"s": points_of(SITE)}, [scan(targets=marks())], rod)
    assert codes(found.network) == ["datum-from-setup"]
    assert height_of(found).offset_m == pytest.approx(-1.4, abs=0.002)
