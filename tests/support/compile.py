"""`python -m tests.support.compile`: what many processes use is compiled once, before they all begin.

Kernels go into the folder where tests and their workers look for them, and the tests themselves beside their
sources. A test that cannot be collected is left for the run of the tests to tell.
"""

import os
import subprocess
import sys

from tests.support.kernels import keep_kernels_together

COLLECT = ("-m", "pytest", "--collect-only", "-qq", "-m", "not long", "-p", "no:cacheprovider")

if __name__ == "__main__":
    keep_kernels_together()
    from slab_core.pipeline.warm import warm  # here: numba reads the variable when it is imported

    warm()
    subprocess.run([sys.executable, *COLLECT], stdout=subprocess.DEVNULL, env=os.environ, check=False)
