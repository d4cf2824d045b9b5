"""The paper that a sheet prints on, changed in its part's bytes; all else stays as it is."""

import re

from estimator.workbook.sheet.look import PAPER_CODES, Paper

_PAGE = re.compile(rb"<(?:\w+:)?pageSetup\b[^>]*>")
_SIZE = re.compile(rb"""\bpaperSize\s*=\s*["'](\d+)["']""")
_NAME_END = re.compile(rb"pageSetup\b")
_CODES = {str(code).encode() for code in PAPER_CODES.values()}
LETTER = str(PAPER_CODES["letter"]).encode()
"""What a page set up without a paper has."""


def on_paper(sheet: bytes, paper: Paper) -> bytes:
    """Return the part of a sheet whose pages are of Letter or A4 with this paper instead.

    Any other paper is the user's choice and stays, as do the margins: they hold on both.
    """
    code = str(PAPER_CODES[paper]).encode()
    return _PAGE.sub(lambda found: _with_size(found[0], code), sheet)


def _with_size(page: bytes, code: bytes) -> bytes:
    size = _SIZE.search(page)
    if (size[1] if size else LETTER) not in _CODES - {code}:
        return page
    attribute = b'paperSize="%s"' % code
    if size is None:
        return _NAME_END.sub(b"pageSetup " + attribute, page, count=1)
    return page[: size.start()] + attribute + page[size.end() :]
