"""Every part of a workbook's package missing, empty, junk or odd: a sentence, or the results."""

import io
import pickle
import random
import re
import zipfile
from functools import cache, partial

import pytest

from estimator import api
from estimator.errors import EstimatorError, WorkbookError
from estimator.workbook import book
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.package.package import Package
from tests.each import each
from tests.workbook_factory import WorkbookFactory

DIGITS = re.compile(rb'="\d+"')
DEEP = 2000
SAMPLE = 60
"""Cases out of all; with all of them the tests passed too, in half a minute."""


def parts_of(data):
    with zipfile.ZipFile(io.BytesIO(data)) as members:
        return {name: members.read(name) for name in members.namelist()}


def zipped(parts):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as members:
        for name, content in parts.items():
            if content is not None:
                members.writestr(name, content)
    return stream.getvalue()


@cache
def written():
    """Return a workbook with its result sheets, and the estimate that they show."""
    factory = WorkbookFactory()
    factory.tables["schedule"] = factory.tables["schedule"][:1]
    workbook = parse_workbook(factory.build())
    study = api.estimate_workbook(workbook, ranges=False)
    return parts_of(with_results(workbook, study)), study


def between_elements(content, text):
    head, end = content[:60], content[60:]
    return head + end.replace(b"><", b">" + text + b"<")


def in_utf_16(content):
    return content.decode().replace("UTF-8", "UTF-16", 1).encode("utf-16")


DAMAGES = {
    "missing": lambda content: None,
    "empty": lambda content: b"",
    "junk": lambda content: b"\0\xffjunk" * 9,
    "cut off": lambda content: content[: len(content) // 2],
    "another root": lambda content: b"<a/>",
    "huge digits": lambda content: DIGITS.sub(b'="%b"' % (b"9" * 5000), content),
    "large numbers": lambda content: DIGITS.sub(b'="99999999999"', content),
    "negative numbers": lambda content: DIGITS.sub(b'="-1"', content),
    "letters for numbers": lambda content: DIGITS.sub(b'="x"', content),
    "empty attributes": lambda content: re.sub(rb'="[^"]*"', b'=""', content),
    "comments": lambda content: between_elements(content, b"<!-- note -->"),
    "instructions": lambda content: between_elements(content, b"<?note here?>"),
    "another encoding": in_utf_16,
    "a document type": lambda content: content.replace(b"?>", b"?><!DOCTYPE a []>", 1),
    "deep": lambda content: b"<a>" * DEEP + b"</a>" * DEEP,
}


SHEETS = {}
"""Result sheets, by all that they are made from: most damages change none of it."""


def sheets_once(make, study, *given):
    """Return the result sheets of the estimate, made once for the same places and names."""
    key = pickle.dumps(given)
    if key not in SHEETS:
        SHEETS[key] = [*make(study, *given)]
    return iter(SHEETS[key])


def outcome(parts):
    """Read a workbook, put results into it and read it again; return what it says if refused."""
    _, study = written()
    try:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(book, "each_sheet", partial(sheets_once, book.each_sheet))
            data = with_results(parse_workbook(zipped(parts)), study)
        parse_workbook(data)
    except EstimatorError as error:
        return str(error)
    return ""


def kinds(parts):
    """Return a part of each kind: one of our result sheets is like the other."""
    seen = {}
    for name in parts:
        seen.setdefault(re.sub(r"\d+", "", name), name)
    job = ("xl/worksheets/sheet2.xml", "xl/tables/table1.xml")
    return [*dict.fromkeys((*seen.values(), *job))]


def cases():
    every = [(name, damage) for name in kinds(written()[0]) for damage in DAMAGES]
    return random.Random(15).sample(every, SAMPLE)


@each("case", cases, ids=" ".join)
def test_a_part_that_is_damaged_is_reported_or_does_no_harm(case):
    name, damage = case
    parts, _ = written()
    outcome({**parts, name: DAMAGES[damage](parts[name])})


@pytest.mark.parametrize("damage", ["comments", "instructions"])
def test_notes_between_the_elements_do_no_harm(damage):
    parts, _ = written()
    texts = {name: content for name, content in parts.items() if content.startswith(b"<?xml")}
    assert outcome({name: DAMAGES[damage](content) for name, content in texts.items()}) == ""


def test_digits_without_end_are_reported_with_their_part():
    parts, _ = written()
    name = "xl/workbook.xml"
    reported = outcome({**parts, name: DAMAGES["huge digits"](parts[name])})
    assert re.search(r"must be a whole number, got '9{10}'", reported)


@pytest.mark.parametrize("count", [b"4000000000", b"9" * 30, b"-1", b""])
def test_a_number_of_shared_texts_that_cannot_be_true_is_left_aside(count):
    parts, _ = written()
    name = "xl/sharedStrings.xml"
    reported = re.sub(rb'uniqueCount="\d+"', b'uniqueCount="%b"' % count, parts[name])
    assert outcome({**parts, name: reported}) == ""


@pytest.mark.parametrize("name", ["xl/workbook.xml", "[Content_Types].xml", "_rels/.rels"])
def test_a_workbook_without_its_head_is_refused(name):
    parts, _ = written()
    with pytest.raises(WorkbookError):
        Package.open(zipped({**parts, name: None}))
