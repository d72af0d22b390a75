"""`up`: the service runs until it is told to stop; its data stay."""

import time
from argparse import Namespace
from pathlib import Path

from slab_local.first_key import first_key
from slab_local.interrupts import Interrupted, interruptible
from slab_local.place import kept_home
from slab_local.stack import Stack, running_stack


def main(arguments: Namespace) -> int:
    """Start everything, say where it is, and stop on Ctrl-C or SIGTERM."""
    home: Path = arguments.data or kept_home(project=Path.cwd())
    try:
        with interruptible(), running_stack(home=home, report=_say, port=arguments.port) as stack:
            _announce(stack)
            while True:
                stack.check()
                time.sleep(0.5)
    except Interrupted:
        _say("Stopped; the data are kept.")
    return 0


def _announce(stack: Stack) -> None:
    _say(f"\nThe service answers at {stack.base_url}")
    _say(f"  documentation  {stack.base_url}/docs")
    _say(f"  key            {first_key(home=stack.home, environment=stack.environment, run=stack.run)}")
    _say(f"  data and logs  {stack.home}")
    _say("Ctrl-C stops it.\n")


def _say(line: str) -> None:
    print(line, flush=True)
