"""A real spreadsheet program for the tests: LibreOffice, without a window, driven over UNO.

``recalculate``, ``convert`` and ``pictures`` share one office process per test process, started
when it is first needed, with a profile of its own. A test that asks for it is skipped, with
the reason, where LibreOffice or its Python bridge is missing. UNO runs in a second Python, the
system's, because only that one knows the bridge: this file, run as a program, is that worker.
"""

import atexit
import contextlib
import functools
import json
import os
import queue
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import zipfile
from pathlib import Path

REFUSED_FOR: list[str] = []
"""The quick test that runs now: it may not ask for the office."""
START_LIMIT_S, TASK_LIMIT_S, MACRO_TRIES = 90, 120, 5
PYTHONS = ("/usr/bin/python3", "python3")
FILTERS = {
    ".xlsx": "Calc MS Excel 2007 XML",
    ".xlsm": "Calc MS Excel 2007 VBA XML",
    ".pdf": "calc_pdf_Export",
}

PROVIDER = "com.sun.star.configuration.ConfigurationProvider"
USUAL_LOCALE = "en-US"
LOCALES = (USUAL_LOCALE, "de-DE", "fr-FR", "ar-SA")
"""What a user may have set: decimal point, comma, comma with odd blanks, and a script apart."""


class CellError(str):
    """An error value of a cell, as the program shows it, such as ``#DIV/0!``."""


def recalculate(path, changes=None, locale=USUAL_LOCALE, sheets=()):
    """Return every filled cell of a workbook after a hard recalculation: sheet, cell, value.

    Of all sheets, or only of those that are named: a large one takes a second to hand over.

    Numbers, dates (as serial numbers) and truth values come as float, text as str and errors
    as ``CellError``. ``changes`` holds values to set first, by sheet and cell. ``locale`` is the
    language and country that the user has set.
    """
    found = _office().ask(
        "recalculate", path=str(path), changes=changes or {}, wanted=sheets, locale=locale
    )
    for sheet, cells in found["errors"].items():
        found["values"][sheet].update({cell: CellError(text) for cell, text in cells.items()})
    return found["values"]


def after_edits(path, edits, watched, locale=USUAL_LOCALE):
    """Return what cells hold in a workbook as it is, and after each edit alone.

    Each edit holds values by sheet and cell, None for a blank; it is undone before the next.
    ``watched`` are the sheet and the cells whose values are returned.
    """
    return _office().ask(
        "after_edits", path=str(path), edits=edits, watched=watched, locale=locale
    )["values"]


def errors_in(values):
    """Return the places and texts of all error values that ``recalculate`` found."""
    return [
        f"{sheet}!{cell}: {value}"
        for sheet, cells in values.items()
        for cell, value in cells.items()
        if isinstance(value, CellError)
    ]


def convert(path, target, renames=None):
    """Open a workbook, recalculate it and save it as .xlsx, .xlsm or .pdf by the target's name.

    ``renames`` holds new names of sheets, by their old ones, to give them first.
    """
    _office().ask("convert", path=str(path), target=str(target), renames=renames or {})
    return Path(target)


def start_anew():
    """End the office that runs, so that the next question is for one that has run nothing yet."""
    if _running.cache_info().currsize:
        _office().close()
        _running.cache_clear()


def run_macros(path, macros=(), sheet="Start"):
    """Open a workbook once with its macros allowed, run some in turn, and say what came of it.

    ``macros`` are ``MODULE.SUB``. Returns the names of the VBA ``modules``, the ``buttons`` of a
    sheet, caption and the macro bound to it, and the ``values`` of the sheet after each macro.
    """
    asked = {"macros": macros, "sheet": sheet}
    for number in range(1, MACRO_TRIES):
        try:
            return _office().ask("run_macros", path=str(path), **asked)
        except RuntimeError:  # on a busy machine the office often ends while Basic runs
            start_anew()
            path = shutil.copy(path, Path(path).with_stem(f"again_{number}"))  # no lock is on it
    return _office().ask("run_macros", path=str(path), **asked)


def pictures(path, folder, dpi=70):
    """Return the printed pages of a workbook as PNG files in a folder."""
    pdf = convert(path, Path(folder) / f"{Path(path).stem}.pdf")
    drawer = shutil.which("pdftoppm")
    if drawer is None:
        _skip("pdftoppm is not installed")
    base = Path(folder) / Path(path).stem
    subprocess.run(
        [drawer, "-r", str(dpi), "-png", str(pdf), str(base)], check=True, timeout=TASK_LIMIT_S
    )
    return sorted(Path(folder).glob(f"{base.name}-*.png"))


def _skip(reason):
    import pytest

    pytest.skip(reason)


@functools.cache
def _missing():
    """Return why there is no office here and the Python that knows the bridge."""
    if shutil.which("soffice") is None:
        return "LibreOffice is not installed", None
    for name in PYTHONS:
        python = shutil.which(name)
        if python is None:
            continue
        probe = subprocess.run(
            [python, "-c", "import uno"], stderr=subprocess.DEVNULL, check=False, timeout=30
        )
        if probe.returncode == 0:
            return "", python
    return "the Python bridge of LibreOffice (python3-uno) is not installed", None


def _office():
    assert not REFUSED_FOR, f"{REFUSED_FOR[0]} asks for LibreOffice: add it to NOT_QUICK"
    reason, python = _missing()
    if reason:
        _skip(reason)
    return _running(python)


@functools.cache
def _running(python):
    office = Office(python)
    atexit.register(office.close)
    return office


class Office:
    """The worker process and, below it, the office process."""

    def __init__(self, python):
        self._worker = subprocess.Popen(
            [python, __file__],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        self._answers = queue.Queue()
        threading.Thread(target=self._listen, daemon=True).start()
        self._wait(START_LIMIT_S)

    def ask(self, task, **details):
        """Have one task done; stop everything if it takes too long."""
        self._worker.stdin.write(json.dumps({"task": task, **details}) + "\n")
        self._worker.stdin.flush()
        return self._wait(TASK_LIMIT_S)

    def close(self):
        """End the office and its worker."""
        with contextlib.suppress(OSError, subprocess.TimeoutExpired):
            self._worker.stdin.close()
            self._worker.wait(30)
        if self._worker.poll() is None:
            self._kill()
        self._worker.stdout.close()

    def _listen(self):
        for line in self._worker.stdout:
            self._answers.put(json.loads(line))
        self._answers.put({"failure": "the office worker has ended"})

    def _wait(self, limit_s):
        try:
            answer = self._answers.get(timeout=limit_s)
        except queue.Empty:
            self._abandon()
            message = f"the office gave no answer within {limit_s} s"
            raise TimeoutError(message) from None
        if "failure" in answer:
            self._abandon()
            raise RuntimeError(answer["failure"])
        return answer

    def _abandon(self):
        """End an office that failed: the next question is for a new one."""
        self._kill()
        _running.cache_clear()

    def _kill(self):
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self._worker.pid, signal.SIGKILL)
        self._worker.wait(30)


ONE_THREAD = {"SAX_DISABLE_THREADS": "1", "MAX_CONCURRENCY": "1"}
"""Reading and calculating by turns takes the office longer than by itself where cores are few."""

# From here on: what runs in the worker.


def _serve():
    profile = tempfile.mkdtemp(prefix="estimator-office-")
    pipe = Path(profile).name.replace("-", "").replace("_", "")
    process = subprocess.Popen(
        ["soffice", "--headless", "--invisible", "--norestore", "--nologo", "--nodefault",
         "--nolockcheck", f"--accept=pipe,name={pipe};urp;",
         f"-env:UserInstallation={Path(profile).as_uri()}"],
        stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        env={**os.environ, **ONE_THREAD},
    )  # fmt: skip
    desktop = None
    try:
        remote = _connect(pipe, process)
        desktop = _make(remote, "com.sun.star.frame.Desktop")
        _answer({})
        for line in sys.stdin:
            order = json.loads(line)
            try:
                provider = _make(remote, PROVIDER)
                set_locale(provider, _properties, order.pop("locale", USUAL_LOCALE))
                _answer(TASKS[order.pop("task")](desktop, **order))
            except Exception as error:
                _answer({"failure": f"{type(error).__name__}: {error}"})
    finally:
        if desktop is not None:
            with contextlib.suppress(Exception):
                _let_go()
                desktop.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(20)
        process.kill()
        shutil.rmtree(profile, ignore_errors=True)


def _answer(answer):
    sys.stdout.write(json.dumps(answer) + "\n")
    sys.stdout.flush()


def _connect(pipe, process):
    import uno

    context = uno.getComponentContext()
    resolver = context.ServiceManager.createInstanceWithContext(
        "com.sun.star.bridge.UnoUrlResolver", context
    )
    end = time.monotonic() + START_LIMIT_S
    while True:
        try:
            return resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
        except Exception:
            if time.monotonic() > end or process.poll() is not None:
                raise
            time.sleep(0.1)


def _make(remote, service):
    return remote.ServiceManager.createInstanceWithContext(service, remote)


def set_locale(provider, properties, locale):
    """Have the office calculate as for a user of this language and country, from now on."""
    settings = provider.createInstanceWithArguments(
        "com.sun.star.configuration.ConfigurationUpdateAccess",
        properties(nodepath="/org.openoffice.Setup/L10N"),
    )
    if settings.getPropertyValue("ooSetupSystemLocale") != locale:
        _let_go()
        settings.setPropertyValue("ooSetupSystemLocale", locale)
        settings.commitChanges()


def _properties(**values):
    from com.sun.star.beans import PropertyValue

    return tuple(PropertyValue(Name=name, Value=value) for name, value in values.items())


NO_MACROS, ALL_MACROS = 0, 4


def _open(desktop, path, macros):
    url = Path(path).resolve().as_uri()
    document = desktop.loadComponentFromURL(
        url, "_blank", 0, _properties(Hidden=True, MacroExecutionMode=macros)
    )
    if document is None:
        message = f"the office does not open {path}"
        raise ValueError(message)
    return document


@contextlib.contextmanager
def _document(desktop, path, macros=NO_MACROS):
    """Yield a workbook, opened and recalculated; its macros run only if they are asked for."""
    document = _open(desktop, path, macros)
    try:
        document.calculateAll()
        yield document
    finally:
        document.close(True)


_KEPT = {}
"""The last workbook that was recalculated, by its file as it was: most are asked for again."""


@contextlib.contextmanager
def _kept(desktop, path):
    """Yield a workbook, opened unless it is still open from the order before."""
    file = Path(path).resolve()
    state = file, file.stat().st_mtime_ns, file.stat().st_size
    if state not in _KEPT:
        _let_go()
        with _without_pages(file) as copy:
            _KEPT[state] = _open(desktop, copy, NO_MACROS)
    try:
        yield _KEPT[state]
    except Exception:
        _let_go()
        raise


PAGE_NAMES = re.compile(
    rb"<definedName [^>]*_xlnm\.Print_(?:Area|Titles)[^>]*>.*?</definedName>", re.DOTALL
)


@contextlib.contextmanager
def _without_pages(file):
    """Yield a copy whose sheets have no pages set: to lay them out takes half of the loading.

    No cell depends on them. What is printed is converted, from the workbook itself.
    """
    with tempfile.TemporaryDirectory(prefix="estimator-office-copy-") as folder:
        copy = Path(folder) / file.name
        with zipfile.ZipFile(file) as given, zipfile.ZipFile(copy, "w") as made:
            for part in given.infolist():
                data = given.read(part)
                if part.filename == "xl/workbook.xml":
                    data = PAGE_NAMES.sub(b"", data)
                made.writestr(part.filename, data)
        yield copy


def _let_go():
    while _KEPT:
        _KEPT.popitem()[1].close(True)


@contextlib.contextmanager
def _edited(document, changes):
    """Recalculate a workbook with some cells typed over, and bring them back afterwards."""
    cells = list(_cells(document, changes))
    before = [_content(cell) for cell, _ in cells]
    for cell, value in cells:
        _put(cell, value)
    document.calculateAll()
    yield
    for (cell, _), (value, formula) in zip(cells, before, strict=True):
        if formula:
            cell.setFormula(formula)
        else:
            _put(cell, value)


def _content(cell):
    """Return the value and the formula of a cell."""
    kind = cell.Type.value
    values = {"VALUE": cell.Value, "TEXT": cell.String}
    return values.get(kind), cell.Formula if kind == "FORMULA" else ""


def _put(cell, value):
    if isinstance(value, str):
        cell.setString(value)
    elif value is None:
        cell.setFormula("")
    else:
        cell.setValue(value)


def _cells(document, changes):
    for sheet, cells in changes.items():
        for address, value in cells.items():
            yield document.Sheets.getByName(sheet).getCellRangeByName(address), value


def _after_edits(desktop, path, edits, watched):
    sheet, addresses = watched
    found = []
    with _kept(desktop, path) as document:
        for edit in ({}, *edits):
            with _edited(document, edit):
                page = document.Sheets.getByName(sheet)
                found.append([page.getCellRangeByName(address).String for address in addresses])
    return {"values": found}


def _recalculate(desktop, path, changes, wanted):
    with _kept(desktop, path) as document, _edited(document, changes):
        names = wanted or document.Sheets.ElementNames
        sheets = [document.Sheets.getByName(name) for name in names]
        return {
            "values": dict(zip(names, map(_values, sheets), strict=True)),
            "errors": dict(zip(names, map(_errors, sheets), strict=True)),
        }


def _values(sheet):
    cursor = sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)
    last = cursor.RangeAddress
    block = sheet.getCellRangeByPosition(0, 0, last.EndColumn, last.EndRow).getDataArray()
    return {
        _address(column, row): value
        for row, line in enumerate(block)
        for column, value in enumerate(line)
        if value not in ("", None)
    }


def _errors(sheet):
    errors = {}
    for area in sheet.queryFormulaCells(4).RangeAddresses:
        for row in range(area.StartRow, area.EndRow + 1):
            for column in range(area.StartColumn, area.EndColumn + 1):
                errors[_address(column, row)] = sheet.getCellByPosition(column, row).String
    return errors


def _address(column, row):
    letters, column = "", column + 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return f"{letters}{row + 1}"


def _convert(desktop, path, target, renames):
    with _document(desktop, path) as document:
        for old, new in renames.items():
            document.Sheets.getByName(old).Name = new
        kind = FILTERS[Path(target).suffix]
        document.storeToURL(Path(target).resolve().as_uri(), _properties(FilterName=kind))
    return {}


def _run_macros(desktop, path, macros, sheet):
    with _document(desktop, path, ALL_MACROS) as document:
        page, shown = document.Sheets.getByName(sheet), {}
        for macro in macros:
            address = f"vnd.sun.star.script:VBAProject.{macro}?language=Basic&location=document"
            document.ScriptProvider.getScript(address).invoke((), (), ())
            shown[macro] = _values(page)
        return {
            "modules": list(document.BasicLibraries.getByName("VBAProject").ElementNames),
            "values": shown,
            "buttons": _buttons(page),
        }


def _buttons(sheet):
    buttons = {}
    for form in sheet.DrawPage.Forms:
        for place, control in enumerate(form):
            events = form.getScriptEvents(place)
            buttons[control.Label] = [event.ScriptCode for event in events]
    return buttons


TASKS = {
    "recalculate": _recalculate,
    "after_edits": _after_edits,
    "convert": _convert,
    "run_macros": _run_macros,
}

if __name__ == "__main__":
    _serve()
