"""`python -m tests.chaos [--seeds N] [--seconds S]`: hurt the back end for a while and count the damage."""

import argparse
import signal
import sys
from dataclasses import asdict

from tests.chaos.house import house_of
from tests.chaos.storm import rage


def main() -> int:
    """Run the storms, print a verdict each; 1 if anything was lost, doubled, unexpected or wrongly parked."""
    parser = argparse.ArgumentParser(prog="chaos", description=__doc__)
    parser.add_argument("--seeds", type=int, default=3, help="how many storms, each with a seed of its own")
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=60.0, help="how long each storm lasts")
    chosen = parser.parse_args()
    # Asked to end, leave by the same way as an error: everything started is stopped.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    clean = True
    for seed in range(chosen.first_seed, chosen.first_seed + chosen.seeds):
        with house_of(seed=seed) as house:
            verdict = rage(house=house, seconds=chosen.seconds)
        print(f"seed {seed}: " + ", ".join(f"{k} {v}" for k, v in asdict(verdict).items()), flush=True)
        clean = clean and verdict.is_clean
    return 0 if clean else 1


if __name__ == "__main__":
    sys.exit(main())
