"""Map tiles below a track: only where the reader names an address and whose they are."""

from __future__ import annotations

import re
from dataclasses import dataclass

_TEMPLATE = re.compile(r"(https?://[A-Za-z0-9.-]+(?::\d{1,5})?)/[A-Za-z0-9._~%&=?+@/{}-]*")
LONGEST_CREDIT = 300


@dataclass(frozen=True)
class Basemap:
    """Where tiles come from (`{z}/{x}/{y}` stand for zoom, column and row) and whose they are."""

    template: str
    credit: str

    @property
    def host(self) -> str:
        """Scheme, name and port of the one address that is asked.

        >>> Basemap("https://tiles.example/{z}/{x}/{y}.png", "someone").host
        'https://tiles.example'
        """
        found = _TEMPLATE.fullmatch(self.template)
        return found.group(1) if found else ""


def basemap_at(template: str, credit: str) -> Basemap:
    """Tiles at that address.

    Raises
    ------
    ValueError
        It is no address of tiles, or nobody is named whose they are.

    >>> basemap_at("https://tiles.example/{z}/{x}/{y}.png?key=1", "someone").host
    'https://tiles.example'
    """
    if not template:
        raise ValueError("there is a credit and no address; add --basemap URL")
    parts = re.findall(r"\{[^{}]*\}", template)
    if not _TEMPLATE.fullmatch(template) or sorted(parts) != ["{x}", "{y}", "{z}"]:
        raise ValueError(
            f"{template!r} is no address of tiles such as https://tiles.example/{{z}}/{{x}}/{{y}}.png"
        )
    if not credit.strip():
        raise ValueError("whose tiles they are must be shown beside them; add --basemap-credit TEXT")
    return Basemap(template, credit.strip()[:LONGEST_CREDIT])
