"""``excel-setup``: xlwings finds what we write, and undo brings back every byte and folder."""

import argparse
import ast
import csv
import importlib.metadata
import os
import sys
import tempfile
from pathlib import Path
from types import SimpleNamespace

import pytest
import xlwings
from hypothesis import given
from hypothesis import strategies as st

from estimator import files
from estimator.cli.excel import add_options
from estimator.errors import EstimatorError, WorkbookError
from estimator.excel import setup
from estimator.excel.installed import Python, this_python, xlwings_file, xlwings_version
from estimator.excel.settings_text import setting, with_setting

PYTHON = Python("/opt/job/.venv/bin/python", "3.11.9", 64, ())
OTHER = Python("/opt/other/python", "3.12.1", 64, ())
VERSION = importlib.metadata.version("xlwings")
KEYS = {"win32": "INTERPRETER_WIN", "darwin": "INTERPRETER_MAC", "linux": "INTERPRETER"}
"""Keys of the settings in xlwings.bas; the last is its older one, for any system."""

LINES = st.sampled_from(
    [b'"PYTHONPATH","C:\\jobs"', b'"SHOW CONSOLE","False"', b'"INTERPRETER_WIN","C:\\py\\p.exe"',
     b'"interpreter_win","D:\\py.exe"', b'"interpreter","python"', b"", b"not a setting",
     b'"NAME","J\xfcrgen"', b'"INTERPRETER_MAC","/usr/bin/python3"']
)  # fmt: skip
CONTENTS = st.builds(
    lambda lines, newline, last: newline.join(lines) + (newline if last else b""),
    st.lists(LINES, max_size=6), st.sampled_from([b"\n", b"\r\n"]), st.booleans(),
)  # fmt: skip


def tree(folder):
    """Return every file and folder below a folder, files with their content."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in folder.rglob("*")
    }


def set_up(place, python=PYTHON):
    for change in setup.setup_changes(place, python, VERSION):
        setup.apply(change)


def undo(place):
    for change in setup.undo_changes(place):
        setup.apply(change)


def run(*arguments):
    parser = argparse.ArgumentParser()
    add_options(parser)
    options = parser.parse_args(arguments)
    return options.run(options)


def place_in(folder, platform="win32"):
    return setup.Place(platform, str(folder / ".xlwings" / "xlwings.conf"))


@given(st.none() | CONTENTS, st.sampled_from(sorted(KEYS)))
def test_undo_brings_back_every_byte_and_folder(content, platform):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        place = place_in(folder, platform)
        if content is not None:
            (folder / ".xlwings").mkdir()
            Path(place.config).write_bytes(content)
        before = tree(folder)
        set_up(place)
        assert setting(Path(place.config).read_bytes(), KEYS[platform]) == PYTHON.path.encode()
        set_up(place, OTHER)
        set_up(place, OTHER)
        undo(place)
        assert tree(folder) == before
        assert setup.undo_changes(place) == []


@given(CONTENTS)
def test_all_other_lines_are_kept_in_their_order(content):
    after = with_setting(content, "INTERPRETER_WIN", b"C:\\new\\python.exe", b"\r\n")

    def others(text):
        return [x for x in text.splitlines() if not x.lower().startswith(b'"interpreter_win"')]

    assert others(after) == others(content)
    assert setting(after, "INTERPRETER_WIN") == b"C:\\new\\python.exe"
    ours = [line for line in after.splitlines() if line.startswith(b'"INTERPRETER_WIN"')]
    assert ours == [b'"INTERPRETER_WIN","C:\\new\\python.exe"']
    assert with_setting(after, "INTERPRETER_WIN", b"C:\\new\\python.exe", b"\n") == after


@pytest.mark.parametrize("platform", ["win32", "darwin"])
def test_xlwings_itself_reads_what_is_written(platform, tmp_path, monkeypatch):
    place = place_in(tmp_path, platform)
    (tmp_path / ".xlwings").mkdir()
    Path(place.config).write_text('"SHOW CONSOLE","True"\n')
    set_up(place)
    monkeypatch.setattr(xlwings, "USER_CONFIG_FILE", place.config)
    found = xlwings.utils.read_user_config()
    assert found == {"show console": "True", KEYS[platform].lower(): PYTHON.path}
    rows = list(csv.reader(Path(place.config).read_text().splitlines()))
    assert rows == [["SHOW CONSOLE", "True"], [KEYS[platform], PYTHON.path]]


@pytest.mark.parametrize("platform", ["win32", "darwin"])
def test_settings_are_where_xlwings_looks(platform, monkeypatch):
    monkeypatch.setenv("HOME", "/home/me")
    monkeypatch.setenv("USERPROFILE", "C:\\Users\\me")
    monkeypatch.setattr(setup.files, "exists", lambda path: True)
    home = {"win32": "C:\\Users\\me", "darwin": "/home/me"}[platform]
    wanted = xlwings_user_config(platform, home)
    assert setup.find_place(platform).config.replace("\\", "/") == wanted.replace("\\", "/")


def xlwings_user_config(platform, home):
    """Run, for another system, the lines by which xlwings finds its file."""
    source = ast.parse(Path(xlwings.__file__).read_text("utf-8"))
    (choice,) = (
        node for node in source.body if isinstance(node, ast.If) and "USER_CONFIG" in ast.dump(node)
    )
    path = SimpleNamespace(join=os.path.join, expanduser=lambda _: home)
    names = {"sys": SimpleNamespace(platform=platform), "os": SimpleNamespace(path=path)}
    exec(compile(ast.Module([choice], []), "xlwings", "exec"), names)
    return names["USER_CONFIG_FILE"]


def test_undo_keeps_what_the_user_has_changed_since(tmp_path):
    place = place_in(tmp_path)
    (tmp_path / ".xlwings").mkdir()
    config = Path(place.config)
    config.write_bytes(b'"INTERPRETER_WIN","C:\\old.exe"\r\n"SHOW CONSOLE","False"\r\n')
    set_up(place)
    config.write_bytes(config.read_bytes().replace(b"False", b"True") + b'"NEW","1"\r\n')
    undo(place)
    wanted = b'"INTERPRETER_WIN","C:\\old.exe"\r\n"SHOW CONSOLE","True"\r\n"NEW","1"\r\n'
    assert tree(tmp_path) == {".xlwings": None, ".xlwings/xlwings.conf": wanted}


def test_undo_leaves_a_file_alone_that_the_user_has_added_to(tmp_path):
    place = place_in(tmp_path)
    set_up(place)
    with Path(place.config).open("ab") as config:
        config.write(b'"NEW","1"\r\n')
    undo(place)
    assert tree(tmp_path) == {".xlwings": None, ".xlwings/xlwings.conf": b'"NEW","1"\r\n'}


@pytest.fixture
def mac(tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    (tmp_path / "Library/Containers/com.microsoft.Excel/Data").mkdir(parents=True)
    return tmp_path


def test_mac_gets_the_script_that_excel_starts_python_by(mac):
    before = tree(mac)
    place = setup.find_place("darwin")
    set_up(place)
    name = f"xlwings-{VERSION}.applescript"
    script = mac / "Library/Application Scripts/com.microsoft.Excel" / name
    assert script.read_bytes() == xlwings_file(name)
    assert "on VbaHandler(ParameterString)" in script.read_text("utf-8")
    undo(place)
    after = tree(mac)
    after.pop("Library/Application Scripts")
    assert after == before


def test_mac_keeps_a_script_that_is_there(mac):
    script = mac / f"Library/Application Scripts/com.microsoft.Excel/xlwings-{VERSION}.applescript"
    script.parent.mkdir(parents=True)
    script.write_text("mine")
    before = tree(mac)
    place = setup.find_place("darwin")
    set_up(place)
    assert script.read_text() == "mine"
    undo(place)
    assert tree(mac) == before


def test_mac_without_excel_ever_started_says_so(tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    with pytest.raises(EstimatorError, match=r"Data does not exist\. Start Excel once"):
        setup.find_place("darwin")


@pytest.mark.parametrize("path", ["/Users/me/my jobs/bin/python", "/Users/J\xfcrgen/python"])
def test_mac_refuses_a_path_that_its_shell_would_break(path, mac):
    python = Python(path, "3.11.9", 64, ())
    with pytest.raises(EstimatorError, match=r"cannot start .*\. The path must have no spaces"):
        setup.setup_changes(setup.find_place("darwin"), python, VERSION)


def test_windows_refuses_a_path_outside_its_code_page(tmp_path, monkeypatch):
    monkeypatch.setattr(setup.locale, "getencoding", lambda: "cp1252")
    place = place_in(tmp_path)
    set_up(place, Python("C:\\Users\\J\xfcrgen\\python.exe", "3.11.9", 64, ()))
    assert b"J\xfcrgen" in Path(place.config).read_bytes()
    python = Python("C:\\Users\\\u0416\\python.exe", "3.11.9", 64, ())
    with pytest.raises(EstimatorError, match=r"encoding cp1252\)\. Move the Python"):
        setup.setup_changes(place, python, VERSION)


def test_windows_shows_libraries_that_cell_functions_miss(tmp_path):
    python = tmp_path / "venv" / "Scripts" / "python.exe"
    python.parent.mkdir(parents=True)
    names = [f"xlwings{bits}-{VERSION}.dll" for bits in (32, 64)]
    place = place_in(tmp_path)
    assert setup.missing_libraries(place, str(python), VERSION) == names
    (tmp_path / "venv" / names[0]).touch()
    (python.parent / names[1]).touch()
    assert setup.missing_libraries(place, str(python), VERSION) == []
    assert setup.missing_libraries(place_in(tmp_path, "darwin"), str(python), VERSION) == []


def test_a_system_without_excel_is_reported_so():
    with pytest.raises(EstimatorError, match="Excel runs only on Windows and Mac"):
        setup.find_place("linux")


def test_the_command_says_line_by_line_what_it_does(tmp_path, capsys):
    config = tmp_path / "xlwings.conf"
    config.write_text('"SHOW CONSOLE","True"\n')
    key = setup.Place(sys.platform, "").key
    assert run("--config", str(config)) == 0
    text = capsys.readouterr().out
    python = this_python()
    assert f"Python  {sys.executable}, {python.version}, {python.bits}-bit" in text
    assert f"xlwings {xlwings_version()}" in text
    assert (sys.prefix == sys.base_prefix) != ("where programs must be allowed, allow" in text)
    assert python.starts in text
    assert f"file    {config}: {key} is not set; the other 1 lines are kept" in text
    assert f"copy    {config}.before-estimator" in text
    assert f"write   {key} = {sys.executable}" in text
    assert "cannot be seen from here" in text
    assert set(tree(tmp_path)) == {
        "xlwings.conf", "xlwings.conf.before-estimator", "xlwings.conf.estimator-undo"
    }  # fmt: skip
    assert run("--config", str(config)) == 0
    assert f"keep    {key} is {sys.executable} already" in capsys.readouterr().out
    assert run("--config", str(config), "--undo") == 0
    assert f"write   {config} as it was" in capsys.readouterr().out
    assert tree(tmp_path) == {"xlwings.conf": b'"SHOW CONSOLE","True"\n'}
    assert run("--config", str(config), "--undo") == 0
    assert "Nothing to undo" in capsys.readouterr().out


@pytest.mark.parametrize("again", [(), ("--undo",)])
def test_a_dry_run_says_the_same_and_changes_nothing(again, tmp_path, capsys):
    config = str(tmp_path / "xlwings.conf")
    if again:
        run("--config", config)
    before = tree(tmp_path)
    capsys.readouterr()
    assert run("--config", config, "--dry-run", *again) == 0
    dry = capsys.readouterr().out
    assert tree(tmp_path) == before
    assert run("--config", config, *again) == 0
    real = capsys.readouterr().out
    assert "Dry run. Nothing was changed." in dry
    steps = [line for line in dry.splitlines() if not line.startswith("Dry run")]
    assert steps == real.splitlines()[: len(steps)]


def test_slow_packages_are_reported(tmp_path, monkeypatch, capsys):
    (tmp_path / "pandas").mkdir()
    (tmp_path / "pandas" / "__init__.py").touch()
    monkeypatch.syspath_prepend(tmp_path)
    run("--config", str(tmp_path / "xlwings.conf"), "--dry-run")
    text = capsys.readouterr().out
    assert "pandas" in text
    assert "every time you press a button" in text


def test_a_damaged_record_is_reported_and_nothing_is_changed(tmp_path):
    place = place_in(tmp_path)
    set_up(place)
    Path(f"{place.config}.estimator-undo").write_text("{")
    before = tree(tmp_path)
    with pytest.raises(
        WorkbookError, match=r"estimator-undo is damaged\. By hand, replace .*before-estimator"
    ):
        undo(place)
    assert tree(tmp_path) == before


def test_folders_are_made_and_only_empty_ones_deleted(tmp_path):
    folder = tmp_path / "a" / "b"
    files.make_folder(str(folder))
    files.make_folder(str(folder))
    (folder / "file").touch()
    files.delete(str(folder))
    assert (folder / "file").exists()
    files.delete(str(folder / "file"))
    files.delete(str(folder / "file"))
    files.delete(str(folder))
    assert list((tmp_path / "a").iterdir()) == []
    (tmp_path / "file").touch()
    with pytest.raises(WorkbookError, match=r"file/b cannot be created: Not a directory"):
        files.make_folder(str(tmp_path / "file" / "b"))
    with pytest.raises(WorkbookError, match=r"file/b cannot be deleted: Not a directory"):
        files.delete(str(tmp_path / "file" / "b"))
