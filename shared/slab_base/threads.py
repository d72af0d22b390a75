"""One thread for each numerical library, unless the environment says otherwise.

Several processes that each start a thread per core spend their time fighting over the cores: two processes
with two threads each did 126 small solves a second together, with one thread each 1,056.
"""

import os
import sys
from collections.abc import MutableMapping

VARIABLES = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")


def one_thread(*, environ: MutableMapping[str, str] | None = None) -> None:
    """Set the thread variables that are not set to 1; call it before numpy is imported.

    Raises RuntimeError when numpy is loaded already and a variable was missing: the setting would do nothing.
    """
    target = os.environ if environ is None else environ
    missing = [name for name in VARIABLES if name not in target]
    if missing and "numpy" in sys.modules and environ is None:
        raise RuntimeError(f"numpy was imported before {', '.join(missing)} could be set to 1")
    for name in missing:
        target[name] = "1"
