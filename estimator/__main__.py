"""``python -m estimator``: the same as the command ``estimator``."""

import sys

if sys.version_info < (3, 11):  # noqa: UP036  # pip looks at this, a Python that is at hand does not
    sys.exit("needs Python 3.11 or later, found %d.%d" % sys.version_info[:2])  # noqa: UP031

from estimator.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
