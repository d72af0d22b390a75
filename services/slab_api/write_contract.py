"""`python -m slab_api.write_contract [PATH]`: write the contract, openapi/openapi.json unless said."""

import sys
from pathlib import Path

from slab_api.app import bare_app
from slab_api.openapi import rendered

DEFAULT_PATH = Path("openapi") / "openapi.json"


def main() -> int:
    """Write the document to the path given, or to the usual one."""
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else DEFAULT_PATH
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(rendered(bare_app(base_url="http://127.0.0.1:8000")))
    sys.stdout.write(f"wrote {path}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
