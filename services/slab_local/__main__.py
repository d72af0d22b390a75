"""`python -m slab_local up` keeps the service running; `python -m slab_local demo` shows one job and ends."""

import argparse
import sys
from importlib import import_module
from pathlib import Path

from slab_base.setting_fields import SettingError
from slab_local import up
from slab_local.errors import LocalServerError


def main() -> int:
    """Run one command; trouble is told in words, without a traceback, with exit code 1."""
    arguments = _parser().parse_args()
    try:
        if arguments.command == "up":
            return up.main(arguments)
        return int(import_module("slab_local.demo.run").main() or 0)  # late: `up` needs none of its parts
    except (LocalServerError, SettingError) as trouble:
        print(f"error: {trouble}", file=sys.stderr)
        return 1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m slab_local", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    keep = commands.add_parser("up", help="start the service and keep it running until Ctrl-C")
    keep.add_argument("--data", type=Path, help="folder for data and logs (default: .local here)")
    keep.add_argument("--port", type=int, help="port of the API; 0 takes any free one")
    commands.add_parser("demo", help="start the service, estimate the demo job, and stop")
    return parser


if __name__ == "__main__":
    sys.exit(main())
