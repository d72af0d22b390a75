"""The small linear programmes behind the planes."""

import subprocess
import sys

PROGRAMME = """
import numpy as np
from slab_core.correction.linear import LinearProgramme
programme = LinearProgramme(cost=np.array([-1.0, -2.0]), low=np.zeros(2), high=np.ones(2))
programme.add_row(coefficients=np.ones(2), high=1.5)
assert abs(programme.solve().objective + 2.5) < 1e-9
"""


def test_the_solver_prints_nothing_from_its_first_call_on() -> None:
    """In a process of its own: a banner is printed once a process, past Python's own stdout."""
    done = subprocess.run([sys.executable, "-c", PROGRAMME], capture_output=True, check=True, timeout=60)
    assert (done.stdout, done.stderr) == (b"", b"")
