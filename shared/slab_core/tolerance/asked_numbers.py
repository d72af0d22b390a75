"""F-numbers asked for: whether measured lines show them to be met, and what to say if not."""

from math import isfinite

from slab_core.errors import Problem
from slab_core.tolerance.f_sections import local_problems, reaches_locally
from slab_core.tolerance.model import FNumbers, ToleranceSpec, Verdict
from slab_core.tolerance.verdict import together


def meets_numbers(numbers: FNumbers | None, *, spec: ToleranceSpec) -> bool:
    """Whether the F-numbers asked for were measured and reached; what was not measured is not met."""
    if spec.f_numbers is None:
        return True
    if numbers is None or numbers.estimated:
        return False
    return _reaches(numbers, wanted=spec.f_numbers) and reaches_locally(
        numbers, of_class=spec.f_numbers_class
    )


def numbers_answer(
    *, numbers: FNumbers | None, spec: ToleranceSpec
) -> tuple[Verdict | None, tuple[Problem, ...]]:
    """The answer to the F-numbers asked for, None where none were, and what must be said beside it.

    Lines neither pass nor fail that are no full test, are too few to tell how sure they are, or whose 90 %
    limits hold what is asked for.
    """
    if spec.f_numbers is None:
        return None, ()
    if numbers is None or numbers.estimated:
        return "measure-more", (_not_measured(numbers),)
    problems = local_problems(numbers=numbers, spec=spec)
    locally: Verdict = "fail" if problems else "pass"
    if not _reaches(numbers, wanted=spec.f_numbers):
        problems = (_not_met(numbers, wanted=spec.f_numbers), *problems)
    ff = _answer(numbers.ff, interval=numbers.ff_interval, wanted=spec.f_numbers[0])
    fl = _answer(numbers.fl, interval=numbers.fl_interval, wanted=spec.f_numbers[1])
    answer = "measure-more" if numbers.shortcomings else together((ff, fl, locally))
    if answer == "measure-more":
        problems = (*problems, _not_proven(numbers, wanted=spec.f_numbers))
    return answer, problems


def _reaches(numbers: FNumbers, *, wanted: tuple[float, float]) -> bool:
    return numbers.ff >= wanted[0] and numbers.fl >= wanted[1]


def _answer(number: float, *, interval: tuple[float, float] | None, wanted: float) -> Verdict:
    if not isfinite(number):
        return "pass"
    low, high = interval or (0.0, float("inf"))
    if low <= wanted <= high:
        return "measure-more"
    return "pass" if low > wanted else "fail"


def _not_measured(estimated: FNumbers | None) -> Problem:
    detail = "F-numbers were asked for but no usable line was measured, so they cannot be shown to be met"
    if estimated is not None:
        guess = f"FF {estimated.ff:.0f}, FL {estimated.fl:.0f}"
        detail += f"; estimated from the fitted surface, which reads high: {guess}"
    return Problem(code="f-numbers-not-measured", detail=detail)


def _not_met(numbers: FNumbers, *, wanted: tuple[float, float]) -> Problem:
    detail = (
        f"{_compared(numbers, wanted=wanted)}; the plan is made for the straightedge rules: measure the "
        "lines again after the correction"
    )
    return Problem(code="f-numbers-not-met", detail=detail, pointer="/tolerance")


def _not_proven(numbers: FNumbers, *, wanted: tuple[float, float]) -> Problem:
    if numbers.shortcomings:
        why = f"they are no full ASTM E1155 test ({'; '.join(numbers.shortcomings)})"
    elif numbers.ff_interval is None or numbers.fl_interval is None:
        why = "fewer than four lines, or lines without any wave, do not tell how sure these numbers are"
    else:
        limits = (f"{low:.1f} to {high:.1f}" for low, high in (numbers.ff_interval, numbers.fl_interval))
        why = "with 90 % they are {} and {}".format(*limits)
    detail = (
        f"{_compared(numbers, wanted=wanted)}, but {why}: lay more lines where the floor has none before the "
        "floor is said to meet or to miss them; a floor too small for the test needs a straightedge rule"
    )
    return Problem(code="f-numbers-not-proven", detail=detail, pointer="/surveys")


def _compared(numbers: FNumbers, *, wanted: tuple[float, float]) -> str:
    ff, fl = (f"{number:.1f}" if isfinite(number) else "infinite" for number in (numbers.ff, numbers.fl))
    asked = f"FF {wanted[0]:g} and FL {wanted[1]:g}"
    return f"the measured lines give FF {ff} and FL {fl}, where {asked} are asked for"
