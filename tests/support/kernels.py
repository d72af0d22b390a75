"""One folder of compiled kernels for the tests' own processes, their workers and the services they start."""

import os
from pathlib import Path

KERNELS = Path(__file__).parents[2] / ".cache" / "numba"
"""Where they are compiled beforehand (`tests.support.compile`), and where the launcher keeps them too."""


def keep_kernels_together() -> None:
    """Say so to whatever loads numba from now on, here or in a child, unless a variable says otherwise."""
    os.environ.setdefault("NUMBA_CACHE_DIR", str(KERNELS))
    os.environ.setdefault("SLABWRIGHT_NUMBA_CACHE_DIR", os.environ["NUMBA_CACHE_DIR"])
