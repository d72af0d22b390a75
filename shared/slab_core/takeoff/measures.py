"""What is measured of a slab and of the air over it, and how each is held against a product's limits."""

from collections.abc import Callable
from dataclasses import dataclass

from slab_core.materials.slab_limits_model import Limit, SlabLimits
from slab_core.takeoff.brief import Brief
from slab_core.units.conversions import fahrenheit

_LET_DRY = "choose a product or a barrier that takes it, or let the slab dry"
_HEAT = "heat or cool the rooms and wait"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One thing to know: the limit that it is held against, what it is called, how it is found out and said,
    where it stands in the job, and what to do where a limit is broken. None where nobody measured it."""

    code: str
    limit: Limit
    what: str
    unit: str
    by: str
    pointer: str
    value: Callable[[Brief], float | None]
    remedy: str
    least: Callable[[SlabLimits], float | None] = lambda _: None
    most: Callable[[SlabLimits], float | None] = lambda _: None
    said: Callable[[float], str] = lambda value: f"{value:g}"

    def range(self, limits: SlabLimits) -> str:
        """The limit in words; empty where there is none."""
        least, most = self.least(limits), self.most(limits)
        if least is not None and most is not None:
            return f"{self.said(least)} to {self.said(most)}{self.unit}"
        if least is not None:
            return f"at least {self.said(least)}{self.unit}"
        return "" if most is None else f"at most {self.said(most)}{self.unit}"

    def broken(self, value: float, limits: SlabLimits) -> bool:
        """Whether a value is outside of the limit."""
        least, most = self.least(limits), self.most(limits)
        return (least is not None and value < least - _SLACK) or (most is not None and value > most + _SLACK)


_SLACK = 1e-9
"""Temperatures go from one unit to the other and back."""


def _degrees(value: float) -> str:
    return f"{fahrenheit(value):.0f} °F ({value:.0f} °C)"


MEASURES = (
    Measure(
        code="slab-too-humid", limit="humidity", what="humidity in the slab", unit=" %",
        by="a test in the slab (ASTM F2170)", pointer="/site/slab/humidity_percent",
        value=lambda job: job.site.slab.humidity_percent, most=lambda o: o.most_humidity_percent,
        remedy=_LET_DRY,
    ),
    Measure(
        code="slab-too-damp", limit="vapour", what="moisture that the slab gives off",
        unit=" lb from 1,000 ft² in 24 h", by="a test on the slab (ASTM F1869)",
        pointer="/site/slab/vapour_lb", value=lambda job: job.site.slab.vapour_lb,
        most=lambda o: o.most_vapour_lb, remedy=_LET_DRY,
    ),
    Measure(
        code="slab-ph", limit="ph", what="pH of the slab's surface", unit="", by="a test on the wetted slab",
        pointer="/site/slab/ph", value=lambda job: job.site.slab.ph, least=lambda o: o.least_ph,
        most=lambda o: o.most_ph, remedy="grind or rinse the surface",
    ),
    Measure(
        code="slab-temperature", limit="temperature", what="temperature of the slab", unit="",
        by="a thermometer on the slab", pointer="/site/slab/temperature_c",
        value=lambda job: job.site.slab.temperature_c, least=lambda o: o.least_temperature_c,
        most=lambda o: o.most_temperature_c, remedy=_HEAT, said=_degrees,
    ),
    Measure(
        code="slab-too-young", limit="age", what="age of the slab", unit=" days",
        by="asking when it was poured", pointer="/site/slab/age_days",
        value=lambda job: job.site.slab.age_days, least=lambda o: o.least_age_days,
        remedy="wait until it is that old",
    ),
    Measure(
        code="slab-profile", limit="profile", what="surface profile of the slab", unit=" (ICRI 310.2R)",
        by="comparing it with profile chips after grinding", pointer="/site/slab/profile",
        value=lambda job: job.site.slab.profile, least=lambda o: o.least_profile,
        remedy="roughen the slab until it has it",
    ),
    Measure(
        code="air-temperature", limit="air-temperature", what="temperature of the air", unit="",
        by="a thermometer in the rooms", pointer="/climate/temperature_c",
        value=lambda job: job.climate.temperature_c, least=lambda o: o.least_air_temperature_c,
        most=lambda o: o.most_air_temperature_c, remedy=_HEAT, said=_degrees,
    ),
    Measure(
        code="air-humidity", limit="air-humidity", what="relative humidity of the air", unit=" %",
        by="a hygrometer in the rooms", pointer="/climate/humidity",
        value=lambda job: 100.0 * job.climate.humidity, least=lambda o: o.least_air_humidity_percent,
        most=lambda o: o.most_air_humidity_percent, remedy="dry or moisten the air of the rooms and wait",
    ),
)  # fmt: skip
