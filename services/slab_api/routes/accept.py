"""Choosing a form of answer by the Accept header (RFC 9110, section 12.5.1)."""

from slab_api.problems import ApiProblem


def preferred(accept: str, *, offered: tuple[str, ...]) -> str:
    """The offered form that the client likes best; the first among equals. Raises ApiProblem 406."""
    weights = {form: _weight(accept, form) for form in offered}
    best = max(offered, key=lambda form: weights[form])
    if weights[best] <= 0:
        raise ApiProblem("not-acceptable", f"Accept says {accept!r}; there is {' and '.join(offered)}")
    return best


def _weight(accept: str, form: str) -> float:
    """The q-value of the most specific range that the form matches; 0 if none does."""
    kind = form.partition("/")[0]
    found: dict[str, float] = {}
    for part in accept.split(","):
        name, *parameters = (piece.strip().lower() for piece in part.split(";"))
        found[name] = _q(parameters)
    for name in (form, f"{kind}/*", "*/*"):
        if name in found:
            return found[name]
    return 0.0


def _q(parameters: list[str]) -> float:
    for parameter in parameters:
        if parameter.startswith("q="):
            try:
                return min(1.0, max(0.0, float(parameter[2:])))
            except ValueError:
                return 0.0
    return 1.0
