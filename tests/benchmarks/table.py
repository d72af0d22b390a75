"""Figures as a table, with the bounds of a figures file beside them."""

import tomllib
from pathlib import Path
from typing import TypedDict

from tests.benchmarks.measure import Figure


class Bound(TypedDict, total=False):
    """What a figure is held against."""

    at_most: float
    at_least: float
    what: str


def read_bounds(path: Path) -> dict[str, Bound]:
    """The bounds by the names of figures; the sections of the file only group them."""
    sections = tomllib.loads(path.read_text())
    return {name: bound for section in sections.values() for name, bound in section.items()}


def verdict(figure: Figure, bound: Bound | None) -> str:
    """`holds (at most 0.7)`, `MISSES (…)`, or nothing without a bound."""
    if not bound or not {"at_most", "at_least"} & set(bound):
        return ""
    least, most = bound.get("at_least"), bound.get("at_most")
    holds = (least is None or figure["value"] >= least) and (most is None or figure["value"] <= most)
    words = [
        f"{word} {limit:g}" for word, limit in (("at least", least), ("at most", most)) if limit is not None
    ]
    return f"{'holds' if holds else 'MISSES'} ({', '.join(words)})"


def row(figure: Figure, bound: Bound | None) -> str:
    """One line of the table."""
    peer = f"{figure['peer']}: {figure['peer_value']:.4g}" if figure["peer_value"] is not None else "-"
    memory = f"{figure['memory_mb']:.0f} MB" if figure["memory_mb"] is not None else "-"
    value = f"{figure['value']:.4g} {figure['unit']}"
    start = f"{figure['name']:<36} {value:>16}  n={figure['n']:<6} {memory:>8}  "
    return f"{start}{peer:<40} {verdict(figure, bound)}".rstrip()
