"""An xlwings engine over a live LibreOffice Calc, so that the macro's code runs unchanged.

For tests only. It answers what the macro asks of Excel through xlwings: books, sheets, names,
tables, cells, looks, charts. It takes text as Excel does: what a person would get by typing it,
so a text that is not made safe becomes a number or a formula here too. Native objects
(``.api``) are LibreOffice's own, except that of a book, which answers the three questions that
the macro puts to Excel's.

``open_app`` skips the test, with the reason, where LibreOffice or its Python bridge is missing
or of another Python. The bridge is imported into this process, and nothing of it stays in the
import machinery. The office has a profile of its own and no pipes, and is killed when its time
is up, which ends the call that waits for it.
"""

import builtins
import contextlib
import datetime as dt
import functools
import importlib
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import pytest
import xlwings as xw
from xlwings import base_classes, utils

from estimator.workbook.package.package import Package
from tests import lo_inside, office

START_LIMIT_S, LIFE_LIMIT_S = 90, 900
FILTERS = {
    ".xlsx": "Calc MS Excel 2007 XML",
    ".xlsm": "Calc MS Excel 2007 VBA XML",
}
WORKBOOK = "xl/workbook.xml"
TITLES = re.compile(rb"<definedName [^>]*_xlnm\.Print_Titles[^<]*</definedName>")
EPOCH = dt.datetime(1899, 12, 30)


@functools.cache
def _bridge():
    """Return why the bridge cannot be used here, and its module."""
    reason, python = office._missing()
    if reason:
        return reason, None
    ask = "import sys, uno; print(uno.__file__); print(*sys.version_info[:2], sep='.')"
    text = subprocess.run([python, "-c", ask], capture_output=True, check=True, timeout=30)
    file, version = text.stdout.decode().split()
    if version != f"{sys.version_info[0]}.{sys.version_info[1]}":
        ours = f"{sys.version_info[0]}.{sys.version_info[1]}"
        return f"LibreOffice's Python bridge is for Python {version}, this is {ours}", None
    folder, usual_import = str(Path(file).parent), builtins.__import__
    sys.path.append(folder)
    try:
        return "", importlib.import_module("uno")
    finally:
        builtins.__import__ = usual_import
        sys.path.remove(folder)


def uno():
    """Return the bridge module of LibreOffice; skip the test where there is none."""
    reason, module = _bridge()
    if reason:
        pytest.skip(reason)
    return module


def struct(name, **values):
    """Return a structure of the bridge."""
    made = uno().createUnoStruct(f"com.sun.star.{name}")
    for key, value in values.items():
        setattr(made, key, value)
    return made


def properties(**values):
    """Return named values as the office takes them."""
    return tuple(
        struct("beans.PropertyValue", Name=name, Value=value) for name, value in values.items()
    )


def named_values(given):
    return tuple(
        struct("beans.NamedValue", Name=name, Value=value) for name, value in given.items()
    )


class Office:
    """One office process, and the connection to it."""

    def __init__(self):
        bridge = uno()
        self.profile = tempfile.mkdtemp(prefix="estimator-live-")
        pipe = Path(self.profile).name.replace("-", "").replace("_", "")
        self.process = subprocess.Popen(
            ["soffice", "--headless", "--invisible", "--norestore", "--nologo", "--nodefault",
             "--nolockcheck", f"--accept=pipe,name={pipe};urp;",
             f"-env:UserInstallation={Path(self.profile).as_uri()}"],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            start_new_session=True, env={**os.environ, **office.ONE_THREAD},
        )  # fmt: skip
        self.watch = threading.Timer(LIFE_LIMIT_S, self._kill)
        self.watch.daemon = True
        self.watch.start()
        context = bridge.getComponentContext()
        resolver = context.ServiceManager.createInstanceWithContext(
            "com.sun.star.bridge.UnoUrlResolver", context
        )
        try:
            remote = self._connect(resolver, pipe)
        except BaseException:
            self.quit()
            raise
        self.remote = remote
        self.desktop = self.make("com.sun.star.frame.Desktop")
        self.inside = Inside(self)

    def make(self, service):
        """Return a new object of the office."""
        return self.remote.ServiceManager.createInstanceWithContext(service, self.remote)

    def set_locale(self, locale):
        """Have the office work as for a user of this language and country, from now on."""
        office.set_locale(self.make(office.PROVIDER), properties, locale)

    def _connect(self, resolver, pipe):
        end = time.monotonic() + START_LIMIT_S
        while True:
            try:
                return resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
            except Exception:
                if time.monotonic() > end or self.process.poll() is not None:
                    raise
                time.sleep(0.1)

    def quit(self):
        """End the office and remove its profile."""
        self.watch.cancel()
        with contextlib.suppress(Exception):
            self.desktop.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(20)
        self._kill()
        self.process.wait(20)
        shutil.rmtree(self.profile, ignore_errors=True)

    def _kill(self):
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)


class Inside:
    """Orders that are carried out in the office, many at once: see ``lo_inside``.

    Orders wait until something is asked, so who looks at the office in another way first
    calls ``done``.
    """

    def __init__(self, office):
        loader = office.make("com.sun.star.loader.Python")
        file = Path(__file__).with_name("lo_inside.py").as_uri()
        made = loader.activate(lo_inside.COMPONENT, "", file, None)
        self._worker = made.createInstanceWithContext(office.remote)
        self._orders, self._sheets = [], []

    def tell(self, name, sheet, area, *values):
        """Have an order carried out before the next question."""
        if not self._sheets or self._sheets[-1] is not sheet:
            self._sheets.append(sheet)
        self._orders.append((name, len(self._sheets) - 1, area, *values))

    def ask(self, name, sheet, area=None, *values):
        """Have an order carried out now, after those that wait, and return what it gives."""
        self.tell(name, sheet, area, *values)
        return self.done()

    def done(self):
        """Have all orders carried out that wait; return what the last one gives."""
        if not self._orders:
            return None
        orders, sheets = json.dumps(self._orders), tuple(self._sheets)
        self._orders, self._sheets = [], []
        given = {
            "orders": orders,
            "sheets": uno().Any("[]any", tuple(sheet.raw for sheet in sheets)),
            "documents": uno().Any("[]any", tuple(sheet.book.raw for sheet in sheets)),
        }
        return json.loads(self._worker.execute(named_values(given)))


class Engine:
    """What xlwings asks of an engine as a whole."""

    name, type = "libreoffice", "desktop"

    def __init__(self):
        self.apps = Apps()

    @staticmethod
    def clean_value_data(data, datetime_builder, empty_as, number_builder, err_to_str):
        def clean(value):
            if value in ("", None):
                return empty_as
            if isinstance(value, office.CellError):
                return str(value) if err_to_str else None
            if isinstance(value, dt.datetime):
                parts = ("year", "month", "day", "hour", "minute", "second", "microsecond")
                return datetime_builder(**{p: getattr(value, p) for p in parts}, tzinfo=None)
            if isinstance(value, float) and number_builder is not None:
                return number_builder(value)
            return value

        return [[clean(value) for value in row] for row in data]

    @staticmethod
    def prepare_xl_data_element(value, options):
        return "" if value is None else value


class Apps:
    def __init__(self):
        self.apps = []

    def keys(self):
        return [app.pid for app in self.apps]

    def __iter__(self):
        return iter(self.apps)

    def __len__(self):
        return len(self.apps)

    def __getitem__(self, pid):
        return next(app for app in self.apps if app.pid == pid)


class App:
    """The office as an application; keeps what was shown to the user, for the tests to read.

    With ``copies_files`` the copy of a book in which nothing was typed is one of its file, where
    no test reads what the office would save.
    """

    version, hwnd = "16.0", 0

    def __init__(self):
        self.office = Office()
        self.books = Books(self)
        self.alerts, self.status_texts, self.copies_files = [], [], False
        self.screen_updating = self.enable_events = self.display_alerts = True
        self._status, self._calculation = False, "automatic"

    engine = property(lambda self: ENGINE)
    api = property(lambda self: self.office.desktop)
    pid = property(lambda self: self.office.process.pid)

    def activate(self, steal_focus=False):
        """Nothing to do without a window."""

    @property
    def selection(self):
        return self.books.active.selection

    @property
    def status_bar(self):
        return self._status

    @status_bar.setter
    def status_bar(self, value):
        self._status = value
        self.status_texts.append(value)

    @property
    def calculation(self):
        return self._calculation

    @calculation.setter
    def calculation(self, value):
        self._calculation = value
        for book in self.books:
            typed = book.doc.isModified()
            book.doc.enableAutomaticCalculation(value == "automatic")
            if value == "automatic":
                book.doc.calculate()
            book.doc.setModified(typed)

    def calculate(self):
        for book in self.books:
            book.doc.calculateAll()

    def alert(self, prompt, title, buttons, mode, callback):
        self.alerts.append((prompt, mode))
        return "ok"

    def quit(self):
        with contextlib.suppress(Exception):
            for book in list(self.books):
                book.close()
        self.office.quit()
        ENGINE.apps.apps.remove(self)


class Books:
    def __init__(self, app):
        self.app, self.books = app, []

    api = property(lambda self: self.app.api)
    active = property(lambda self: self.books[-1])

    def __len__(self):
        return len(self.books)

    def __iter__(self):
        return iter(self.books)

    def __call__(self, key):
        for book in self.books:
            if book.name == key:
                return book
        raise KeyError(key)

    def open(self, fullname, *options):
        return self._load(fullname, str(fullname))

    def open_unsaved(self, template):
        """Open a new workbook with the content of another, as from a template."""
        return self._load(template, "", AsTemplate=True)

    def _load(self, file, path, **options):
        hidden = properties(Hidden=True, MacroExecutionMode=0, **options)
        url = self._without_titles(Path(file)).as_uri()
        document = self.app.api.loadComponentFromURL(url, "_blank", 0, hidden)
        assert document is not None, f"the office does not open {url}"
        document.setModified(False)  # the office has calculated some cells anew
        book = Book(self, document, path)
        self.books.append(book)
        return book

    def _without_titles(self, file):
        """Return a copy of a file whose pages repeat no rows: nobody prints here.

        For each page that does, the office looks for the page breaks of a million rows of every
        sheet that has no print area: for half of the time that it takes to open a file.
        """
        package = Package.open(file.read_bytes())
        kept = TITLES.sub(b"", package.part(WORKBOOK))
        folder = Path(tempfile.mkdtemp(dir=self.app.office.profile))
        copy = folder / file.name
        copy.write_bytes(package.with_part(WORKBOOK, kept))
        return copy


class NativeBook:
    """What the macro asks of Excel's own workbook object, answered by LibreOffice."""

    def __init__(self, book):
        self._book = book

    @property
    def Date1904(self):
        return self._book.doc.NullDate.Year == 1904

    @property
    def FullName(self):
        return self._book.path or self._book.name

    def SaveCopyAs(self, path):
        """Store a copy; the document keeps its own name, as in Excel."""
        if self._book.app.copies_files and self._book.is_as_opened():
            shutil.copyfile(self._book.opened, path)
            return
        kind = FILTERS[Path(path).suffix]
        self._book.doc.storeToURL(Path(path).resolve().as_uri(), properties(FilterName=kind))


class Book:
    """``path`` is empty for a book never saved, and may be set to a URL as of a cloud folder.

    ``listed`` are its sheets in their order, each with its name, kept here as a press asks for
    them hundreds of times: sheets come, go and are renamed through this engine only.
    """

    def __init__(self, books, doc, path):
        self.books, self.raw, self.path, self.opened = books, doc, path, path
        sheets = doc.Sheets
        self.listed = [
            Sheet(self, sheets.getByIndex(place), name)
            for place, name in enumerate(sheets.ElementNames)
        ]

    @property
    def inside(self):
        return self.books.app.office.inside

    @property
    def doc(self):
        """The document of the office, all orders carried out."""
        self.inside.done()
        return self.raw

    api = property(lambda self: NativeBook(self))
    app = property(lambda self: self.books.app)
    sheets = property(lambda self: Sheets(self))
    names = property(lambda self: Names(self))
    name = property(lambda self: re.split(r"[\\/]", self.path)[-1] or "Book1")

    @property
    def fullname(self):
        if "://" in self.path:
            return utils.fullname_url_to_local_path(self.path)
        return self.path or self.name

    def is_as_opened(self):
        """Return whether the file of the book holds all that is in it."""
        return bool(self.opened) and not self.doc.isModified()

    @property
    def selection(self):
        from tests.lo_engine_ranges import Range

        chosen = self.doc.CurrentController.getSelection().RangeAddress
        sheet = self.listed[chosen.Sheet]
        return Range(sheet, chosen.StartRow, chosen.StartColumn, chosen.EndRow, chosen.EndColumn)

    def list_new(self, place):
        """Take a sheet that has come into the list, and return it; places count from 0."""
        x = self.doc.Sheets.getByIndex(place)
        self.listed.insert(place, Sheet(self, x, x.Name))
        return self.listed[place]

    def activate(self):
        """Nothing to do without a window."""

    def close(self):
        self.doc.close(True)
        self.books.books.remove(self)

    def save(self, path=None, password=None):
        self.path = os.fspath(path or self.path)
        self.api.SaveCopyAs(self.path)


class Sheets:
    def __init__(self, book):
        self.book = book

    x = api = property(lambda self: self.book.doc.Sheets)

    @property
    def active(self):
        return self.book.listed[self.book.doc.CurrentController.ActiveSheet.RangeAddress.Sheet]

    def __len__(self):
        return len(self.book.listed)

    def __iter__(self):
        return iter(list(self.book.listed))

    def __call__(self, key):
        if isinstance(key, int):
            return self.book.listed[key - 1]
        for sheet in self.book.listed:
            if sheet.name.casefold() == key.casefold():
                return sheet
        raise KeyError(key)

    def add(self, before=None, after=None, name=None):
        place = after.index if after else before.index - 1 if before else 0
        self.x.insertNewByName(name, place)
        added = self.book.list_new(place)
        added.activate()
        return added


class Sheet:
    def __init__(self, book, x, name):
        self.book, self.raw, self._name = book, x, name
        self.show_gridlines = True

    @property
    def x(self):
        """The sheet of the office, all orders carried out."""
        self.book.inside.done()
        return self.raw

    def ask(self, name, area=None, *values):
        """Ask the office something about cells, or about the whole sheet."""
        return self.book.inside.ask(name, self, area, *values)

    def tell(self, name, area, *values):
        """Order the office to do something to cells, before the next question."""
        self.book.inside.tell(name, self, area, *values)

    api = property(lambda self: self.x)
    index = property(lambda self: self.book.listed.index(self) + 1)
    name = property(lambda self: self._name)

    @name.setter
    def name(self, value):
        self.x.Name = value
        self._name = self.x.Name

    visible = property(
        lambda self: self.x.IsVisible, lambda self, value: setattr(self.x, "IsVisible", bool(value))
    )

    @property
    def tables(self):
        from tests.lo_engine_ranges import Tables

        return Tables(self)

    @property
    def charts(self):
        from tests.lo_engine_charts import Charts

        return Charts(self)

    @property
    def page_setup(self):
        return PageSetup(self)

    def range(self, start, end=None):
        from tests.lo_engine_ranges import make_range

        return make_range(self, start, end)

    @property
    def used_range(self):
        row, column = self.ask("used")
        return self.range((1, 1), (row + 1, column + 1))

    def clear(self):
        self.used_range.clear()

    def clear_contents(self):
        self.used_range.clear_contents()

    def activate(self):
        self.tell("activate", None)

    def delete(self):
        self.book.doc.Sheets.removeByName(self.name)
        self.book.listed.remove(self)

    def copy(self, before, after):
        """Copy into the book of another sheet, tables too, as Excel does.

        The office copies some tables only, under numbers that others may have: all are made anew.
        """
        assert before is None
        doc = after.book.doc
        doc.Sheets.importSheet(self.book.doc, self.name, after.index)
        after.book.list_new(after.index)
        ranges = doc.DatabaseRanges
        for table in self.tables:
            if ranges.hasByName(table.name):
                ranges.removeByName(table.name)
            area = table.x.DataArea
            area.Sheet = after.index
            ranges.addNewByName(table.name, area)


class PageSetup:
    def __init__(self, sheet):
        self.sheet = sheet

    @property
    def print_area(self):
        areas = self.sheet.ask("print_areas")
        if not areas:
            return None
        top, left, bottom, right = areas[0]
        return self.sheet.range((top + 1, left + 1), (bottom + 1, right + 1)).address

    @print_area.setter
    def print_area(self, value):
        self.sheet.tell("set_print_area", self.sheet.range(value).area if value else None)


class Names(base_classes.Names):
    def __init__(self, book):
        self.book = book

    x = api = property(lambda self: self.book.doc.NamedRanges)

    def snapshot(self):
        found = Sheets(self.book)(1).ask("names")
        return [(name, Name(self.book, name, content)) for name, content in found]

    def __len__(self):
        return self.x.Count

    def __call__(self, key):
        name = self.x.ElementNames[key - 1] if isinstance(key, int) else key
        return Name(self.book, name, self.x.getByName(name).Content)

    def contains(self, key):
        return self.x.hasByName(key)

    def add(self, name, refers_to):
        content = Sheets(self.book)(1).ask("add_name", None, name, to_office(refers_to)[1:])
        return Name(self.book, name, content)


class Name:
    """A defined name, as it was when it was found; what it refers to changes with its cells."""

    def __init__(self, book, name, content):
        self.book, self.name, self._content = book, name, content

    @property
    def x(self):
        return self.book.doc.NamedRanges.getByName(self.name)

    api = property(lambda self: self.x)

    @property
    def refers_to(self):
        return from_office(f"={self._content}")

    @refers_to.setter
    def refers_to(self, value):
        self._content = to_office(value)[1:]
        self.x.setContent(self._content)

    def delete(self):
        self.book.doc.NamedRanges.removeByName(self.name)


_KEPT = r'"(?:[^"]|"")*"|\[[\w .,/%-]+\]'
_EXCEL = re.compile(rf"({_KEPT})|((?:'(?:[^']|'')+'|[A-Za-z_]\w*)!(?=\$?[A-Z]))|,")
_OFFICE = re.compile(rf"({_KEPT})|\$((?:'(?:[^']|'')+'|[A-Za-z_]\w*)\.(?=\$?[A-Z]))|;")


def to_office(formula):
    """Return a formula as LibreOffice takes it, from one as Excel writes it.

    >>> to_office("=IF('Bid, old'!A1>0,Plan!$B$2,\\"a,b\\")")
    '=IF($\\'Bid, old\\'.A1>0;$Plan.$B$2;"a,b")'
    """
    return _EXCEL.sub(lambda m: m[1] or (f"${m[2][:-1]}." if m[2] else ";"), formula)


def from_office(formula):
    """Return a formula as Excel writes it, from one of LibreOffice."""
    return _OFFICE.sub(lambda m: m[1] or (f"{m[2][:-1]}!" if m[2] else ","), formula)


ENGINE = Engine()


@contextlib.contextmanager
def open_app():
    """Yield LibreOffice as an xlwings app; skip the test, with the reason, where it is missing."""
    uno()
    if ENGINE.name not in [engine.name for engine in xw.engines]:
        xw.engines.add(xw.Engine(impl=ENGINE))
    xw.engines[ENGINE.name].activate()
    impl = App()
    ENGINE.apps.apps.append(impl)
    try:
        yield xw.App(impl=impl)
    finally:
        impl.quit()
