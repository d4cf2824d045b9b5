"""``estimator print``: the pages of one reader as a PDF, printed by LibreOffice."""

import argparse
import sys

from estimator.errors import InputError, Problem, naming_file

NO_OFFICE = (
    "LibreOffice is not on this machine, and it makes the PDF. Install it, or print the sheets "
    "{sheets} from your spreadsheet program: each is set up for its paper"
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator print``."""
    from estimator.workbook.results.print_sets import READERS

    parser.add_argument("file", metavar="FILE", help="estimated workbook")
    parser.add_argument(
        "--for", dest="reader", required=True, choices=tuple(READERS), help="who reads the pages"
    )
    parser.add_argument("-o", "--output", metavar="PDF", required=True, help="PDF to write")
    parser.set_defaults(run=run_print)


def run_print(options: argparse.Namespace) -> int:
    """Print the sheets of a reader; the workbook stays as it is."""
    from estimator import files
    from estimator.display import counted
    from estimator.workbook.results.print_sets import print_set

    if files.is_same(options.file, options.output):
        raise InputError([Problem("-o", "This is the workbook itself. Name another file")])
    data = files.read_bytes(options.file)
    with naming_file(options.file):
        _refuse_unestimated(data, options.file)
        copy, sheets = print_set(data, options.reader)
    office = files.find_office()
    if office is None:
        raise InputError([Problem("LibreOffice", NO_OFFICE.format(sheets=", ".join(sheets)))])
    pdf = files.as_pdf(office, copy, files.name_of(options.file))
    files.save_atomically(options.output, pdf)
    sys.stdout.write(f"{options.output}: {counted(len(sheets), 'sheet')}, {', '.join(sheets)}\n")
    return 0


def _refuse_unestimated(data: bytes, path: str) -> None:
    """Refuse a workbook that was never estimated; say where its results are old."""
    from estimator.workbook.read.file_source import FileSource
    from estimator.workbook.results.print_sets import LOOK, never_estimated, status_to_show

    found = FileSource(data).result_values(LOOK)
    if found is None or never_estimated(found[1]):
        raise InputError([Problem(path, "was not estimated yet. Run: estimator estimate FILE")])
    status = status_to_show(found[1])
    if status:
        sys.stderr.write(f"{found[0]}!B3: {status}\n")
