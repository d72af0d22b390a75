"""Random streams by name: the same name gives the same draws, whatever else is drawn beside it."""

import numpy as np


def stream(seed: int, *names: str) -> np.random.Generator:
    """The stream of one source of chance, such as (seed, "yield") or (seed, "volumes", floor id)."""
    text = "\0".join(names).encode()
    return np.random.default_rng(np.random.SeedSequence([seed, *text]))
