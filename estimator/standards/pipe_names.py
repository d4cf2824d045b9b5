"""What pipe is called on every page: the size as the trade says it, ``24 in IPS DR 17``."""

import re
from collections.abc import Iterable

from estimator.display import phrase
from estimator.standards.pipe_sizes import CUSTOM

METRIC = "ISO"
"""The outside diameters that are called by their millimeters."""
EARLIER = re.compile(
    r"(?P<system>IPS|DIPS|CTS|OD)\s*(?P<size>\d[\d./-]*)\s*(?P<unit>in|mm)?\s*"
    r"(?P<wall>DR\s*[\d.]+\s*(?:furnished|pipe|PE\d+)?)",
    re.IGNORECASE,
)
"""A name of pipe in earlier workbooks, ``IPS 24 DR 17``, alone, as a bid item or with its
material; metric ones have the same name as now."""


def size_label(od_system: str, size: str) -> str:
    """Return what one size is called; a diameter given as a number has its unit already.

    >>> size_label("IPS", "24"), size_label("ISO", "900"), size_label("OD", "13.2 in")
    ('24 in IPS', '900 mm', '13.2 in OD')
    """
    if od_system == METRIC:
        return f"{size} mm"
    return f"{size} {CUSTOM}" if od_system == CUSTOM else f"{size} in {od_system}"


def sizes_label(sizes: Iterable[tuple[str, str]]) -> str:
    """Return what sizes are called in a list, each with its system: those of one together.

    >>> sizes_label([("DIPS", "16"), ("DIPS", "20")])
    '16 and 20 in DIPS'
    >>> sizes_label([("IPS", "24"), ("DIPS", "20"), ("IPS", "20")])
    '24, 20 in IPS and 20 in DIPS'
    """
    by_system: dict[str, dict[str, None]] = {}
    for od_system, size in sizes:
        by_system.setdefault(od_system, {})[size] = None
    joined = phrase if len(by_system) == 1 else ", ".join
    return phrase(
        [size_label(od_system, joined(list(each))) for od_system, each in by_system.items()]
    )


def ratio_label(od_system: str) -> str:
    """Return what the ratio of diameter to wall is called where a size is."""
    return "SDR" if od_system == METRIC else "DR"


def pipe_label(od_system: str, size: str, dr: float) -> str:
    """Return what one size and wall is called.

    >>> pipe_label("IPS", "24", 17.0), pipe_label("ISO", "900", 13.6)
    ('24 in IPS DR 17', '900 mm SDR 13.6')
    """
    return f"{size_label(od_system, size)} {ratio_label(od_system)} {dr:g}"


def as_called_now(name: str) -> str:
    """Return a name of pipe from an earlier workbook in the words of today, any other as it is.

    >>> as_called_now("IPS 24 DR 17 furnished"), as_called_now("OD 13.2 in DR 17 PE4710")
    ('24 in IPS DR 17 furnished', '13.2 in OD DR 17 PE4710')
    >>> as_called_now("24 in IPS DR 17"), as_called_now("900 mm SDR 17"), as_called_now("R12")
    ('24 in IPS DR 17', '900 mm SDR 17', 'R12')
    """
    found = EARLIER.fullmatch(name)
    if found is None:
        return name
    system = found["system"].upper()
    size = f"{found['size']} {found['unit']}" if found["unit"] else found["size"]
    return f"{size_label(system, size)} {found['wall']}"
