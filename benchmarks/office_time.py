"""A worker for the Python that knows UNO: processor time of LibreOffice over workbooks.

Arguments are what to measure, ``recalculate`` (hard) or ``load``, and workbooks; prints for each
the least processor time in JSON.
"""

import contextlib
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import uno
from com.sun.star.beans import PropertyValue

TIMES, WAIT_S = 5, 60


def start(folder):
    """Start LibreOffice with a profile of its own; return its desktop."""
    pipe = f"bench{os.getpid()}"
    subprocess.Popen(
        ["soffice", f"-env:UserInstallation=file://{folder}", "--headless", "--norestore",
         "--nologo", f"--accept=pipe,name={pipe};urp;"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    context = uno.getComponentContext()
    manager = context.ServiceManager
    resolver = manager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", context)
    until = time.monotonic() + WAIT_S
    while True:
        try:
            found = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
            break
        except Exception:
            if time.monotonic() > until:
                raise
            time.sleep(0.1)
    return found.ServiceManager.createInstanceWithContext("com.sun.star.frame.Desktop", found)


def process_of(folder):
    """Return the process of the office with this profile."""
    for entry in Path("/proc").iterdir():
        try:
            named = entry.name.isdigit() and "soffice.bin" in (entry / "comm").read_text()
            if named and folder in (entry / "cmdline").read_text():
                return entry
        except OSError:
            continue
    raise RuntimeError("LibreOffice is not there")


def cpu_s(process):
    """Return the processor time of a process so far, by its clock: /proc counts in 10 ms."""
    return time.clock_gettime(~int(process.name) << 3 | 2)


def recalculate(desktop, path):
    """Yield what is done some times with an open workbook."""
    book = load(desktop, path)
    book.calculateAll()
    yield book.calculateAll
    book.close(True)


def opened(desktop, path):
    """Yield what opens a workbook, once it was open before."""
    load(desktop, path).close(True)
    books = []
    yield lambda: books.append(load(desktop, path))
    for book in books:
        book.close(True)


def load(desktop, path):
    """Open a workbook without a window."""
    hidden = PropertyValue("Hidden", 0, True, 0)
    return desktop.loadComponentFromURL(f"file://{path}", "_blank", 0, (hidden,))


MEASURED = {"recalculate": recalculate, "load": opened}


def main(what, paths):
    """Do it with each workbook in turn, some times; print the least processor time of each."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        desktop = start(folder)
        process = process_of(folder)
        under_way = [MEASURED[what](desktop, path) for path in paths]
        acts = [next(each) for each in under_way]
        found = [min(taken) for taken in zip(*rounds(process, acts), strict=True)]
        for each in under_way:
            next(each, None)
        with contextlib.suppress(Exception):
            desktop.terminate()
    print(json.dumps(found))


def rounds(process, acts):
    """Yield what each act took, round by round."""
    for _ in range(TIMES):
        taken = []
        for act in acts:
            before = cpu_s(process)
            act()
            taken.append(cpu_s(process) - before)
        yield taken


main(sys.argv[1], sys.argv[2:])
