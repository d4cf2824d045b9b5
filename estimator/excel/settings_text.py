"""The text of xlwings' settings file, changed without touching what others wrote in it.

The file holds one ``"KEY","value"`` on each line. Excel reads the first line of a key, in any
case of its letters. Everything here works on bytes, so that the lines kept stay as they were.
"""

import re

_LINE = re.compile(rb'\s*"?([^",]*?)"?\s*,\s*"?([^"]*?)"?\s*')


def setting(content: bytes, key: str) -> bytes | None:
    r"""Return the value of a key, None if the file does not set it.

    >>> setting(b'"A","1"\n"b","2"\n', "B")
    b'2'
    """
    values = (match[2] for line in _lines(content) if (match := _of_key(line, key)))
    return next(values, None)


def other_settings(content: bytes, key: str) -> int:
    """Return how many lines set something else."""
    return sum(bool(line.strip()) and not _of_key(line, key) for line in _lines(content))


def with_setting(content: bytes, key: str, value: bytes, newline: bytes) -> bytes:
    r"""Return the file with a key set to a value; all lines of other keys are kept.

    Parameters
    ----------
    content : bytes
        The file as it is.
    key : str
        Name of the setting.
    value : bytes
        Its value, in the encoding that Excel reads.
    newline : bytes
        End of line to use where the file has none yet.

    >>> with_setting(b'"A","1"\n', "B", b"2", b"\n")
    b'"A","1"\n"B","2"\n'
    """
    line = b'"' + key.encode() + b'","' + value + b'"'
    newline = _newline(content, newline)
    return _with_lines(content, key, [line + newline], newline)


def with_setting_of(content: bytes, key: str, before: bytes) -> bytes:
    r"""Return the file with the lines of a key as they were in an earlier version of the file.

    >>> with_setting_of(b'"A","9"\n"C","3"\n', "A", b'"a","1"\n')
    b'"a","1"\n"C","3"\n'
    """
    wanted = [line for line in _lines(before) if _of_key(line, key)]
    return _with_lines(content, key, wanted, _newline(content, b"\n"))


def _with_lines(content: bytes, key: str, wanted: list[bytes], newline: bytes) -> bytes:
    lines = _lines(content)
    places = [place for place, line in enumerate(lines) if _of_key(line, key)]
    others = [line for line in lines if not _of_key(line, key)]
    place = places[0] if places else len(others)
    if wanted and place and not others[place - 1].endswith((b"\n", b"\r")):
        others[place - 1] += newline
    return b"".join([*others[:place], *wanted, *others[place:]])


def _lines(content: bytes) -> list[bytes]:
    return content.splitlines(keepends=True)


def _of_key(line: bytes, key: str) -> re.Match[bytes] | None:
    match = _LINE.fullmatch(line)
    return match if match and match[1].lower() == key.encode().lower() else None


def _newline(content: bytes, default: bytes) -> bytes:
    first = _lines(content)[:1]
    ending = first[0][len(first[0].rstrip(b"\r\n")) :] if first else b""
    return ending or default
