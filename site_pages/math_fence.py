"""Equations: a block fenced as ``math`` becomes MathML, which browsers set without a script."""

from typing import Any

from latex2mathml.converter import convert


def as_mathml(source: str, *_: Any, **__: Any) -> str:  # noqa: ANN401 - what superfences passes
    """Return the equations of a block, one a line of the source.

    >>> as_mathml("a = b")[:24]
    '<p class="equation"><mat'
    """
    lines = filter(None, map(str.strip, source.splitlines()))
    made = (convert(line, display="block") for line in lines)
    return "".join(f'<p class="equation">{one}</p>' for one in made)
