"""The page about layouts, on standard output.

python -m scenarios.layouts > models/LAYOUTS.md            for the built-in planes, about half a minute
python -m scenarios.layouts my-setup.yaml slow-3d          for setups of your own
"""

from __future__ import annotations

import sys

from models.errors import UserError
from scenarios.layouts.changes import one_at_a_time
from scenarios.layouts.page import page
from scenarios.layouts.study import SETUPS, over_cg
from scenarios.manoeuvres import CannotFly


def _progress(what: str) -> None:
    print(what, file=sys.stderr)


def main(arguments: list[str]) -> int:
    """Print the page; what is being flown goes to stderr.  Exit codes as of `upline`."""
    names = tuple(arguments) or SETUPS
    try:
        print(page(names, over_cg(names, _progress), one_at_a_time(_progress)))
    except UserError as error:
        print(error, file=sys.stderr)
        return 2
    except CannotFly as stop:
        print(f"cannot be flown: {stop}", file=sys.stderr)
        return 3
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
