"""``python -m site_pages.pictures``: the first page of every sheet of the gallery as a picture.

Runs the commands on copies of the examples, prints the workbooks through LibreOffice, and keeps of
each sheet its first page, its white margins cut off.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from PIL import Image, ImageChops
from python_calamine import CalamineWorkbook

from estimator import files
from estimator.cli import main as estimator
from estimator.workbook.package.package import Package
from workbook_template.gallery import PICTURES, UNDER_WAY, Pictured, pictured

ROOT = Path(__file__).parent.parent
EXAMPLES, FOLDER = ROOT / "examples", ROOT / "docs" / PICTURES
DOTS_PER_INCH, COLORS, MARGIN = 90, 48, 12
OTHER = ("Changes",)


class NoPicturesError(Exception):
    """A picture could not be made, and why."""


def job_under_way(folder: Path) -> Path:
    """Return the example under way with all its sheets."""
    path = Path(shutil.copy(EXAMPLES / "under_way.xlsx", folder))
    for command, *options in UNDER_WAY:
        _run(command, str(path), *options)
    return path


def job_with_changes(folder: Path) -> Path:
    """Return the county example with the sheet that compares it with its addendum."""
    old, new = (EXAMPLES / f"county_force_main{end}.xlsx" for end in ("", "_addendum_1"))
    path = folder / "changes.xlsx"
    _run("diff", str(old), str(new), "--into", str(path))
    return path


def _run(*arguments: str) -> None:
    if estimator([*arguments, "--quiet"]):
        raise NoPicturesError(f"estimator {' '.join(arguments)} failed")


def first_pages(book: Path, wanted: Sequence[Pictured], folder: Path) -> Iterator[Path]:
    """Yield the picture of each sheet, in the order of the pages."""
    data = book.read_bytes()
    pdf = _printed(Package.open(data).with_only([one.sheet for one in wanted]), folder)
    pages = pages_by_sheet(_text(pdf), titles(data))
    for one in wanted:
        if one.sheet not in pages:
            raise NoPicturesError(f"No page of {one.sheet} was found")
        yield _drawn(pdf, pages[one.sheet], folder / one.file)


def titles(data: bytes) -> dict[str, str]:
    """Return the title of each sheet of a workbook, in their order."""
    book = CalamineWorkbook.from_filelike(io.BytesIO(data))
    sheets = ((name, book.get_sheet_by_name(name)) for name in book.sheet_names)
    return {name: _title(sheet.to_python(nrows=3)) for name, sheet in sheets}


def _title(rows: Sequence[Sequence[object]]) -> str:
    return next((str(cell) for row in rows for cell in row if str(cell).strip()), "")


def pages_by_sheet(pages: Sequence[str], titles: Mapping[str, str]) -> dict[str, int]:
    r"""Return the first page of each sheet: it names it at its foot or begins with its title.

    Sheets come one after the other, so that a title is looked for behind the page of the last one.

    >>> foot = "job.xlsx    Rates    Page 1 of 3"
    >>> pages = [f"Prices\n{foot}", "Cost by run\nJob", "Job"]
    >>> pages_by_sheet(pages, {"Rates": "", "Costs": "Cost by"})
    {'Rates': 1, 'Costs': 2}
    """
    found: dict[str, int] = {}
    last = 0
    for sheet, title in titles.items():
        for number, text in enumerate(pages[last:], last + 1):
            lines = text.strip().splitlines() or [""]
            if _foot(lines[-1]) == sheet or (title and lines[0].startswith(title)):
                found[sheet] = last = number
                break
    return found


def _foot(line: str) -> str:
    """Return what stands in the middle of a foot of three parts."""
    parts = [part.strip() for part in line.split("  ") if part.strip()]
    return parts[1] if len(parts) == 3 else ""


def _printed(data: bytes, folder: Path) -> Path:
    path = folder / "printed.pdf"
    office = files.find_office()
    if office is None:
        raise NoPicturesError("LibreOffice is not on this machine: make office")
    path.write_bytes(files.as_pdf(office, data, "job.xlsx"))
    return path


def _text(pdf: Path) -> list[str]:
    return _poppler("pdftotext", "-layout", str(pdf), "-").decode().split("\f")[:-1]


def _drawn(pdf: Path, page: int, path: Path) -> Path:
    at = str(page)
    base = path.with_suffix("")
    _poppler(
        "pdftoppm", "-png", "-r", str(DOTS_PER_INCH), "-f", at, "-l", at, "-singlefile",
        str(pdf), str(base),
    )  # fmt: skip
    with Image.open(path) as drawn:
        _cut(drawn.convert("RGB")).quantize(COLORS).save(path, optimize=True)
    return path


def _cut(picture: Image.Image) -> Image.Image:
    """Return a picture without its white margins."""
    box = ImageChops.difference(picture, Image.new("RGB", picture.size, "white")).getbbox()
    if box is None:
        raise NoPicturesError("A page is empty")
    left, top, right, bottom = box
    wide, high = picture.size
    return picture.crop(
        (max(0, left - MARGIN), max(0, top - MARGIN), min(wide, right + MARGIN),
         min(high, bottom + MARGIN))
    )  # fmt: skip


def _poppler(command: str, *arguments: str) -> bytes:
    if shutil.which(command) is None:
        raise NoPicturesError(f"{command} is not on this machine: install poppler-utils")
    return subprocess.run([command, *arguments], check=True, capture_output=True).stdout


def main() -> int:
    """Make every picture of the gallery anew; others in the folder go."""
    wanted = list(pictured())
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        changes = [one for one in wanted if one.sheet in OTHER]
        job = [one for one in wanted if one.sheet not in OTHER]
        made = [
            *first_pages(job_under_way(folder), job, folder),
            *first_pages(job_with_changes(folder), changes, folder),
        ]
        FOLDER.mkdir(exist_ok=True)
        for old in FOLDER.glob("*.png"):
            old.unlink()
        for path in made:
            shutil.copy(path, FOLDER)
    sys.stdout.write(f"{FOLDER.relative_to(ROOT)}: {len(made)} pictures\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
