"""A job's actuals beside its quote, line by line."""

from collections import defaultdict
from math import log

import numpy as np

from slab_core.closeout.learn import absurd
from slab_core.closeout.model import Actual, ComparedLine, ComparedTotal, Comparison, EstimatedLine
from slab_core.errors import InputRefused, Problem


def compare(
    *,
    estimated: tuple[EstimatedLine, ...],
    actuals: tuple[Actual, ...],
    noise_sd: float,
    may_be_none: frozenset[str] = frozenset(),
) -> Comparison:
    """Every reported line with its ratio, totals by unit, and what was not reported. Work of the codes
    `may_be_none` may have taken nothing.

    Raises
    ------
    InputRefused
        naming every entry of a line that was not quoted, that is given twice, or is no quantity above 0.
    """
    by_key = {line.key: line for line in estimated if line.quantity > 0.0}
    _check(by_key=by_key, actuals=actuals, may_be_none=may_be_none)
    lines = tuple(_line(by_key[actual.key], actual, noise_sd=noise_sd) for actual in actuals)
    sums: defaultdict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    for line in lines:
        sums[line.unit][0] += line.estimated
        sums[line.unit][1] += line.actual
    reported = {actual.key for actual in actuals}
    return Comparison(
        lines=lines,
        totals=tuple(
            ComparedTotal(unit=unit, estimated=before, actual=after)
            for unit, (before, after) in sorted(sums.items())
        ),
        unreported=tuple(sorted(key for key in by_key if key not in reported)),
    )


def _line(estimated: EstimatedLine, actual: Actual, *, noise_sd: float) -> ComparedLine:
    ratio = actual.quantity / estimated.quantity
    return ComparedLine(
        key=estimated.key,
        kind=estimated.kind,
        what=estimated.what,
        unit=estimated.unit,
        estimated=estimated.quantity,
        actual=actual.quantity,
        ratio=ratio,
        absurd=ratio > 0.0 and bool(absurd(logs=np.array([log(ratio)]), noise_sd=noise_sd)[0]),
    )


def _check(
    *, by_key: dict[str, EstimatedLine], actuals: tuple[Actual, ...], may_be_none: frozenset[str]
) -> None:
    problems, seen = [], set()
    for row, actual in enumerate(actuals):
        if actual.key not in by_key:
            detail = (
                f"no line {actual.key!r} that a crew can tell of was quoted; take keys from the quote's "
                "work-lines"
            )
            problems.append(_refusal("actual-unknown-line", detail, f"/actuals/{row}/key"))
        elif actual.key in seen:
            detail = f"the line {actual.key!r} is given twice; give its whole quantity once"
            problems.append(_refusal("actual-repeated", detail, f"/actuals/{row}/key"))
        line = by_key.get(actual.key)
        nothing = actual.quantity == 0.0 and line is not None and line.code in may_be_none
        if not (nothing or 0.0 < actual.quantity < 1e9):
            detail = (
                "what a line took is a quantity above 0 in the line's own unit; leave out what was not done"
            )
            problems.append(_refusal("actual-not-a-quantity", detail, f"/actuals/{row}/quantity"))
        seen.add(actual.key)
    if problems:
        raise InputRefused(tuple(problems))


def _refusal(code: str, detail: str, pointer: str) -> Problem:
    return Problem(code=code, detail=detail, pointer=pointer, severity="refusal")
