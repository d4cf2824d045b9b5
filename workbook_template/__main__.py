"""``python -m workbook_template COMMAND [DIR]``: rebuilds the files made from the dictionaries."""

import argparse
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from workbook_template import build_template, example_names, example_system, under_way
from workbook_template.content import job_files
from workbook_template.docs_pages import pages
from workbook_template.takeoff_example import TAKEOFF

Built = Iterator[tuple[str, bytes]]


def examples() -> Built:
    """Yield the file name and content of every example workbook, and of the takeoffs in them."""
    for name in example_names():
        yield f"{name}.xlsx", build_template(example_system(name), name)
        takeoff = job_files(name, TAKEOFF)
        if takeoff:
            yield f"{name}_{TAKEOFF}", takeoff[0].read_bytes()
    yield f"{under_way.NAME}.xlsx", under_way.build()


def docs() -> Built:
    """Yield the file name and content of every generated page of the documentation."""
    for name, make in pages().items():
        yield name, make().encode()


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code."""
    parser = argparse.ArgumentParser(prog="python -m workbook_template", description=__doc__)
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    _add(commands.add_parser("build-examples", help="rewrite the examples"), "examples", examples)
    _add(commands.add_parser("build-docs", help="rewrite the generated pages"), "docs", docs)
    options = parser.parse_args(arguments)
    write_all(options.build(), Path(options.folder))
    return 0


def _add(parser: argparse.ArgumentParser, folder: str, build: Callable[[], Built]) -> None:
    parser.add_argument("folder", nargs="?", default=folder, metavar="DIR")
    parser.set_defaults(build=build)


def write_all(built: Built, folder: Path) -> None:
    """Write files into a folder, made if it is not there, and name each one."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in built:
        (folder / name).write_bytes(content)
        sys.stdout.write(f"{folder / name}\n")


if __name__ == "__main__":
    sys.exit(main())
