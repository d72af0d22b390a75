"""What the API process loads, by whatever path: import-linter cannot see into other people's packages."""

import os
import subprocess
import sys

BANNED = ("celery", "highspy", "kombu", "matplotlib", "numba", "ortools", "pandas", "scipy")


def loaded(*statements: str) -> set[str]:
    """The top-level modules of a fresh process after some statements."""
    program = "\n".join([*statements, "import sys", "print(*{name.split('.')[0] for name in sys.modules})"])
    done = subprocess.run(
        [sys.executable, "-c", program], env=os.environ, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.split())


def test_the_api_process_loads_no_solver_no_kernel_and_no_broker() -> None:
    modules = loaded("import slab_api.app", "import slab_api.__main__")
    assert {"fastapi", "slab_app"} <= modules
    assert modules & set(BANNED) == set()


def test_a_banned_package_would_be_seen() -> None:
    assert "scipy" in loaded("import scipy")
