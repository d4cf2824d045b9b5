"""``python -m estimator``: the same as the command ``estimator``."""

from estimator.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
