"""The score of planted faults: as a table of modules, and in docs/checked.md by part."""

import csv
import subprocess
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.mutation.faults import ROOT

TABLE, PAGE = Path(__file__).parent / "score.csv", ROOT / "docs" / "checked.md"
BEGIN = "<!-- planted: make mutants writes this -->\n"
END = "<!-- end of what make mutants writes -->"
COLUMNS = ("module", "commit", "places", "planted", "noticed", "explained", "open")
HEAD = "| Part | Places | Planted | Noticed | Explained | Open |\n|---|---|---|---|---|---|\n"
PLAIN = "units and money"


@dataclass(frozen=True)
class Row:
    """The score of one module, and the commit at which its faults were planted."""

    module: str
    commit: str
    counts: tuple[int, ...]


def read(path: Path) -> list[Row]:
    """Return the score of every module that was planted."""
    with path.open(encoding="utf-8") as file:
        _, *rows = csv.reader(file)
    return [Row(module, at, tuple(map(int, counts))) for module, at, *counts in rows]


def write(found: Mapping[str, tuple[int, ...]], modules: Mapping[str, int]) -> None:
    """Write the table and the page: what was planted now, of other modules what was found before.

    ``modules`` are those that there are, with the places at which a fault can be planted.
    """
    now = commit()
    known = {row.module: row for row in read(TABLE) if row.module in modules}
    known |= {module: Row(module, now, counts) for module, counts in found.items()}
    rows = [known.get(name, Row(name, "", (places, 0, 0, 0, 0)))
            for name, places in sorted(modules.items())]  # fmt: skip
    with TABLE.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerows([COLUMNS, *((row.module, row.commit, *row.counts) for row in rows)])
    before, _, rest = PAGE.read_text("utf-8").partition(BEGIN)
    after = rest.partition(END)[2]
    PAGE.write_text(f"{before}{BEGIN}{passage(rows)}{END}{after}", "utf-8")


def passage(rows: Sequence[Row]) -> str:
    """Return what the page says of the score."""
    commits = dict.fromkeys(row.commit for row in rows if row.commit)
    return f"{HEAD}{''.join(_lines(rows))}\nPlanted at commit {', '.join(commits)}, by module.\n"


def _lines(rows: Sequence[Row]) -> Iterator[str]:
    parts: dict[str, list[int]] = defaultdict(lambda: [0] * (len(COLUMNS) - 2))
    for row in rows:
        part = row.module.partition("/")[0] if "/" in row.module else PLAIN
        for name in (part, "**all**"):
            parts[name] = [a + b for a, b in zip(parts[name], row.counts, strict=True)]
    for name, counts in sorted(parts.items(), key=lambda part: part[0].startswith("*")):
        yield f"| {name} | {' | '.join(f'{count:,}' for count in counts)} |\n"


def commit() -> str:
    """Return the short name of the last commit."""
    asked = ("git", "rev-parse", "--short", "HEAD")
    done = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, check=True)
    return done.stdout.strip()
