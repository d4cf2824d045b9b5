"""``python -m release_kit [SYSTEM ...]``: builds the kits into build/kit."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from release_kit.build import build_kit, pip
from release_kit.systems import PYTHONS, SYSTEMS


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code."""
    parser = argparse.ArgumentParser(prog="python -m release_kit", description=__doc__)
    parser.add_argument("systems", nargs="*", metavar="SYSTEM", help=", ".join(SYSTEMS))
    parser.add_argument("--to", metavar="DIR", default="build/kit")
    parser.add_argument("--python", metavar="VERSION", action="append", choices=PYTHONS)
    options = parser.parse_args(arguments)
    for name in options.systems or SYSTEMS:
        if name not in SYSTEMS:
            parser.error(f"no system {name}; there are {', '.join(SYSTEMS)}")
    for name in options.systems or SYSTEMS:
        made = build_kit(SYSTEMS[name], Path(options.to), pip, options.python or PYTHONS)
        sys.stdout.write(f"{made}  {made.stat().st_size / 1e6:.0f} MB\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
