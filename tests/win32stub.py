"""Runs cell functions through xlwings' own Windows code, without Windows and without Excel.

The open-source modules ``xlwings.udfs``, ``xlwings._xlwindows`` and ``xlwings.com_server`` turn
the cells of a call into Python values, call the function and turn its result back. They import
pywin32, so this file puts stand-ins for pywin32 where they look for it. What runs is xlwings'
own code; what does not is the transport between Excel and Python.

The stand-ins replace modules of the whole process. ``Excel`` therefore works in a process of its
own, and nothing changes in the process of the tests.
"""

import contextlib
import ctypes
import datetime as dt
import importlib
import io
import multiprocessing
import os
import subprocess
import sys
import types
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from unittest import mock

MODULE = "estimator.excel.functions"
MISSING = -2147352572
"""What VBA hands over for an optional argument that was left out."""

ERRORS = {
    "#NULL!": -2146826288, "#DIV/0!": -2146826281, "#VALUE!": -2146826273,
    "#REF!": -2146826265, "#NAME?": -2146826259, "#NUM!": -2146826252, "#N/A": -2146826246,
    "#SPILL!": -2146826243, "#CALC!": -2146826238,
}  # fmt: skip
"""Number that COM hands over for each error value (0x800A0000 and the code of CVErr)."""

RANGE_ID = "{00020846-0000-0000-C000-000000000046}"
NAMES = (
    "win32api", "win32con", "win32event", "win32gui", "win32process", "win32com.server",
    "win32com.server.dispatcher", "win32com.server.policy", "win32com.server.util",
)  # fmt: skip


@dataclass(frozen=True)
class Cells:
    """A range as an argument: rows of what the cells hold; one row of one cell is one cell."""

    rows: tuple[tuple[object, ...], ...]

    @classmethod
    def column(cls, *values):
        """Return a range of one column."""
        return cls(tuple((value,) for value in values))


class PyTime(dt.datetime):
    """A date cell as pywin32 hands it over: a date and time with a time zone."""


@dataclass(frozen=True)
class Imported:
    """What Import Functions leaves in a workbook: the VBA module and the wizard's texts."""

    vba: str
    options: dict


class Excel:
    """Calls cell functions as Excel does, in a process of its own; close it when done."""

    def __init__(self):
        context = multiprocessing.get_context("spawn")
        self._pool = ProcessPoolExecutor(1, mp_context=context)

    def call(self, name, *arguments):
        """Return what the cell or cells show: one value, a tuple for a row, rows otherwise."""
        return self._pool.submit(_call, name, arguments).result(timeout=120)

    def import_functions(self):
        """Return what Import Functions writes into a workbook, see ``Imported``."""
        return self._pool.submit(_import_functions).result(timeout=120)

    def close(self):
        """End the process."""
        self._pool.shutdown()


# In the process of the functions


class _Anything:
    """Stands for what is looked up while modules load, and never used by a call."""

    def __init__(self, *args, **kwargs):
        pass

    def __getattr__(self, name):
        if name.startswith("__"):
            raise AttributeError(name)
        return _Anything()

    def __call__(self, *args, **kwargs):
        return _Anything()


class _StandIn(types.ModuleType):
    def __getattr__(self, name):
        if name.startswith("__"):
            raise AttributeError(name)
        return _Anything()


class _Types(dict):
    def __missing__(self, key):
        return _Anything


class _ComError(Exception):
    """pywintypes.com_error."""


def _stand_in(name, **attributes):
    module = _StandIn(name)
    module.__path__ = []
    module.__dict__.update(attributes)
    sys.modules[name] = module


def _not_wrapped(_value):
    raise _ComError("no Python object inside")


def _install_pywin32():
    for name in NAMES:
        _stand_in(name)
    server = sys.modules["win32com.server"]
    server.util = sys.modules["win32com.server.util"]
    server.util.unwrap = _not_wrapped
    sys.modules["win32process"].GetWindowThreadProcessId = lambda window: (0, 1)
    utc = types.SimpleNamespace(utc=lambda: dt.UTC)
    _stand_in("win32timezone", TimeZoneInfo=utc)
    _stand_in(
        "pywintypes", com_error=_ComError, TimeType=PyTime, IID=lambda text: text, Time=lambda t: t
    )
    _stand_in(
        "pythoncom", __file__="pythoncom", com_error=_ComError, IID_IDispatch=0, TypeIIDs=_Types()
    )
    dispatch = type("CDispatch", (), {})
    client = types.ModuleType("win32com.client")
    client.Dispatch = client.DispatchEx = lambda thing, **_options: thing
    client.CDispatch = client.CoClassBaseClass = client.DispatchBaseClass = dispatch
    sys.modules["win32com.client"] = client
    _stand_in("win32com", client=client, server=server)


@cache
def _excel_side():
    """Import xlwings' Windows modules and bind its decorators as it does on Windows."""
    _install_pywin32()
    for library in ("windll", "oledll"):
        setattr(ctypes, library, _Anything())
    subprocess.CREATE_NO_WINDOW = 0
    folder = os.getcwd()  # noqa: PTH109 - xlwings changes it while it loads
    with mock.patch.object(ctypes, "PyDLL", _Anything):
        import xlwings
        from xlwings import _xlwindows
    os.chdir(folder)
    _xlwindows.Apps.cleanup = staticmethod(lambda: None)
    xlwings.engines.add(xlwings.Engine(impl=_xlwindows.engine))
    xlwings._xlwindows = _xlwindows
    from xlwings import com_server, udfs

    xlwings.func, xlwings.arg, xlwings.ret = udfs.xlfunc, udfs.xlarg, udfs.xlret
    return com_server.XLPython(), udfs


def _com_range(rows):
    single = len(rows) == 1 and len(rows[0]) == 1
    kind = types.SimpleNamespace(iid=RANGE_ID)
    info = types.SimpleNamespace(GetTypeAttr=lambda: kind)
    program = types.SimpleNamespace(Version="16.0", Hwnd=1)
    book = types.SimpleNamespace(Name="job.xlsm", Application=program)
    return types.SimpleNamespace(
        Value=rows[0][0] if single else rows,
        Row=1,
        Column=1,
        Rows=types.SimpleNamespace(Count=len(rows)),
        Columns=types.SimpleNamespace(Count=len(rows[0])),
        Worksheet=types.SimpleNamespace(Name="Sheet1", Parent=book),
        _oleobj_=types.SimpleNamespace(GetTypeInfo=lambda: info),
    )


class _Workbook:
    """The workbook that Import Functions writes into; keeps what it is given."""

    def __init__(self):
        self.Name = "job.xlsm"
        self.Worksheets = [types.SimpleNamespace(Name="Start")]
        self.VBProject = types.SimpleNamespace(VBComponents=self)
        self.Application = types.SimpleNamespace(Version="16.0", MacroOptions=self._set_options)
        self.vba = ""
        self.options = {}

    def __call__(self, _name):
        raise _ComError("there is no such module yet")

    def Remove(self, _module):
        raise AssertionError("nothing to remove")

    def Import(self, path):
        with open(path, encoding="utf-8") as file:  # noqa: PTH123 - a path made by xlwings
            self.vba = file.read()

    def _set_options(self, macro, **options):
        self.options[macro.partition("!")[2]] = options


def _call(name, arguments):
    server, _udfs = _excel_side()
    given = tuple(_com_range(a.rows) if isinstance(a, Cells) else a for a in arguments)
    return server.CallUDF(MODULE, name, given, _Workbook(), _com_range(((None,),)))


def _import_functions():
    _server, udfs = _excel_side()
    importlib.import_module(MODULE)
    workbook = _Workbook()
    with contextlib.redirect_stdout(io.StringIO()):
        udfs.import_udfs(MODULE, workbook)
    return Imported(workbook.vba, workbook.options)
