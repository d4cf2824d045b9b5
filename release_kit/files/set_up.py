"""Sets the estimator up in this folder, from the packages beside it; needs no network.

Started by setup.cmd or setup.command with the Python that they found. It says each thing that it
does, and stops at the first that does not work.
"""

from __future__ import annotations

import argparse
import json
import platform
import shutil
import struct
import subprocess
import sys
import sysconfig
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
ENVIRONMENT = HERE / ".venv"
WINDOWS = sys.platform == "win32"
PYTHON = ENVIRONMENT / ("Scripts/python.exe" if WINDOWS else "bin/python")
SCRIPT = ".cmd" if WINDOWS else ".command"
WITH_EXCEL = ("win32", "darwin")
WORKBOOK = "first_job.xlsm"


class CannotError(Exception):
    """Something that stops the set-up; the text says what to do."""


def main(arguments: list[str] | None = None) -> int:
    """Set up, and say what was done."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("units", nargs="?", choices=("us", "si"), default="us")
    options = parser.parse_args(arguments)
    try:
        facts = json.loads((HERE / "kit.json").read_text("ascii"))
        show(f"Setting up the job estimator {facts['version']} in {HERE}")
        check_python(facts)
        check_folder()
        make_environment()
        install()
        excel_problem = set_excel_up()
        make_workbook(options.units)
    except CannotError as error:
        show(f"\nNOT set up: {error}")
        return 1
    show_the_end(excel_problem)
    return 0


def show(text: str) -> None:
    """Print at once."""
    print(text, flush=True)


def check_python(facts: dict[str, object]) -> None:
    """Refuse a Python that the packages of this kit are not for."""
    found = "{}.{}".format(*sys.version_info[:2])
    pythons = list(facts["pythons"])  # type: ignore[call-overload]  # read from JSON
    wanted = f"{', '.join(pythons)} (64-bit, for {facts['system']})"
    if sys.platform != facts["platform"]:
        raise CannotError(f"this kit is for {facts['system']}: take the kit of this system")
    if found not in pythons:
        raise CannotError(f"needs Python {wanted}; found {found}, {sys.executable}")
    if struct.calcsize("P") != 8:
        raise CannotError(f"needs Python {wanted}; found a 32-bit one, {sys.executable}")
    if not sysconfig.get_platform().endswith((str(facts["machine"]), "universal2")):
        raise CannotError(f"needs Python {wanted}; found one for {sysconfig.get_platform()}")
    if sys.platform == "darwin" and platform.machine() != facts["machine"]:
        raise CannotError(f"this kit is for {facts['system']}; this is {platform.machine()}")
    show(f"  Python {found} is good: {sys.executable}")


def check_folder() -> None:
    """Refuse a folder in which Excel could not start Python."""
    path = str(HERE)
    if path.startswith("\\\\"):
        raise CannotError(f"{path} is on the network: copy the folder to this computer")
    if sys.platform == "darwin" and (not path.isascii() or any(c in path for c in " '\"$`\\")):
        raise CannotError(
            f"Excel on Mac starts no Python from {path}: put the folder where its whole path has "
            "no blanks and only plain letters"
        )


def make_environment() -> None:
    """Make the environment anew."""
    if ENVIRONMENT.exists():
        show("  The environment of an earlier setup is removed")
        try:
            shutil.rmtree(ENVIRONMENT)
        except OSError as error:
            raise CannotError(
                f"{error}: close Excel and every window of Python, run again"
            ) from error
    show("  Making an environment in .venv")
    try:
        venv.create(ENVIRONMENT, with_pip=True)
    except (OSError, subprocess.CalledProcessError) as error:
        raise CannotError(f"the environment could not be made: {error}") from error


def install() -> None:
    """Install every package from this folder, each checked by its hash."""
    show("  Installing the packages of this folder, without a network")
    run(
        "-m", "pip", "--isolated", "--disable-pip-version-check", "install", "--quiet",
        "--no-index", "--find-links", str(HERE / "packages"), "--require-hashes",
        "-r", str(HERE / "packages.txt"),
    )  # fmt: skip
    show("  Compiling them, so that a press in Excel starts quickly")
    run("-m", "compileall", "-q", str(ENVIRONMENT))


def set_excel_up() -> str:
    """Tell Excel which Python to start; return what stood in the way."""
    if sys.platform not in WITH_EXCEL:
        show("  There is no Excel on this system: left out")
        return ""
    show("  Pointing Excel to this Python (excel-setup)")
    try:
        show(indented(run("-m", "estimator", "excel-setup")))
    except CannotError as error:
        show(indented(str(error)))
        return "Excel does not know this Python yet (see above). Then run setup again."
    return ""


def make_workbook(units: str) -> None:
    """Make a first workbook, unless there is one."""
    if (HERE / WORKBOOK).exists():
        show(f"  {WORKBOOK} is there already and stays as it is")
        return
    run("-m", "estimator", "new", str(HERE / WORKBOOK), "--units", units)
    show(f"  {WORKBOOK} is made, in {'US' if units == 'us' else 'SI'} units")


def run(*arguments: str) -> str:
    """Run the environment's Python and return what it prints."""
    command = [str(PYTHON), *arguments]
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=HERE)
    except OSError as error:
        raise CannotError(f"{PYTHON} may not be started: {error}") from error
    if done.returncode:
        raise CannotError((done.stdout + done.stderr).strip())
    return done.stdout


def indented(text: str) -> str:
    """Return lines moved to the right."""
    return "\n".join(f"    {line}" for line in text.strip().splitlines())


def show_the_end(excel_problem: str) -> None:
    """Say what there is now and what to do next."""
    base = getattr(sys, "_base_executable", sys.executable)
    show(f"""
Set up. Nothing outside this folder was changed, but for the settings of Excel named above.
  Where programs must be allowed, both of these start for each estimate:
    {PYTHON}
    {base}
Next
  1. Open {WORKBOOK} in Excel, allow its macros, fill in the yellow cells, save, press Estimate.
  2. Without macros: drop a workbook onto estimate{SCRIPT}, or double-click that while it is open.
  3. Look around first: the workbooks in examples. Read docs/excel.md when something does not work.
  uninstall{SCRIPT} takes all of this back and leaves your workbooks.""")
    if excel_problem:
        show(f"\n{excel_problem}")


if __name__ == "__main__":
    sys.exit(main())
