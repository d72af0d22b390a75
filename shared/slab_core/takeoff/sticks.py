"""Strips cut from stock lengths."""


def sticks_needed(*, lengths_m: tuple[float, ...], stock_m: float, kerf_m: float = 0.003) -> int:
    """Sticks for strips that are each in one piece, longest first into the first stick they fit.

    A strip longer than a stick is spliced from whole sticks and a rest. The result is at most 11/9 of
    the least number and one more (a property of first fit decreasing, from memory).
    """
    whole = 0
    rests: list[float] = []
    for length in lengths_m:
        full, rest = divmod(length, stock_m)
        whole += int(full)
        if rest > 1e-6:
            rests.append(rest)
    left: list[float] = []
    for rest in sorted(rests, reverse=True):
        place = next((i for i, room in enumerate(left) if room >= rest - 1e-9), None)
        if place is None:
            left.append(stock_m - rest - kerf_m)
        else:
            left[place] -= rest + kerf_m
    return whole + len(left)
