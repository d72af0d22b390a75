"""`python -m tests.benchmarks [--json FILE] [--figures FILE] [NAME-PREFIX ...]`: measure and print."""

import argparse
import json
import sys
from pathlib import Path

from slab_base.threads import VARIABLES, one_thread

one_thread()

from tests.benchmarks.measure import cores, found_benchmarks, measure  # noqa: E402 - threads come before numpy
from tests.benchmarks.table import read_bounds, row  # noqa: E402 - the same


def main() -> int:
    """Print each figure when it is there; write all of them at the end."""
    parser = argparse.ArgumentParser(prog="python3 dev.py bench", description=__doc__)
    parser.add_argument(
        "prefixes", nargs="*", metavar="NAME-PREFIX", help="only figures whose names begin so"
    )
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures as a list of objects")
    parser.add_argument(
        "--figures", type=Path, metavar="FILE", help="a TOML file of bounds to print beside them"
    )
    arguments = parser.parse_args()
    bounds = read_bounds(arguments.figures) if arguments.figures else {}
    print(f"{cores()} cores, one thread for each library ({', '.join(VARIABLES)})\n")
    figures = []
    for figure in measure(found_benchmarks(), wanted=arguments.prefixes):
        figures.append(figure)
        print(row(figure, bounds.get(figure["name"])), flush=True)
    if arguments.json:
        arguments.json.write_text(json.dumps(figures, indent=1) + "\n")
    if not figures:
        print("no figure has such a name", file=sys.stderr)
    return 0 if figures else 1


if __name__ == "__main__":
    sys.exit(main())
