"""What the cheapest floor takes of one plane's bags under a rule, on other slabs than those that the table of
takeoff/unseen/rule.py was taken from, over what the table says (1: just that). No peer does this."""

from collections.abc import Iterator

from slab_core.numerics.grid import Floats
from slab_core.takeoff.unseen.rule import share_under
from tests.benchmarks.allowance_shares import of_one_plane, rule_of, shares
from tests.benchmarks.measure import Figure, measures

SLABS = tuple((93, k) for k in range(12))
LOOKED_AT = ("8th_in_10ft", "3_16ths_in_10ft", "4th_in_10ft", "8th_in_6ft")


@measures("quote.rule_")
def bench_allowance_rule() -> list[Figure]:
    """Bags, their spread and hours over the table's."""
    plane = of_one_plane(SLABS)
    return [figure for name in LOOKED_AT for figure in _figures(name, plane)]


def _figures(name: str, plane: Floats) -> Iterator[Figure]:
    rule = rule_of(name)
    found, said = shares(SLABS, rule=rule, plane=plane), share_under((rule,))
    assert said is not None
    for what, value in (
        ("bags_over_table", found.bags / said.bags),
        ("spread_over_table", found.spread / said.spread),
        ("hours_over_table", found.hours / said.hours),
    ):
        yield Figure(
            name=f"quote.rule_{name}_{what}", value=value, unit="",
            peer=None, peer_value=None, n=len(SLABS), memory_mb=None,
        )  # fmt: skip
