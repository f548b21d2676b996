"""How a log of the logbook was analysed, kept so that it can be analysed again in the same way."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import msgspec

from flightlog.batch import Recipe
from flightlog.errors import BookError
from flightlog.places import Place
from flightlog.settings import settings_for
from flightlog.wings import Wing

_ANALYSIS = (
    "air", "arrays.py", "debriefing.py", "distances", "earth", "estimates.py", "logbook/entries.py", "measures",
    "motion", "phases", "settings.py", "tracks",
)  # fmt: skip


@dataclass(frozen=True)
class KeptRecipe:
    """Places, wing and its class, date and columns that a log was read and debriefed with."""

    places: tuple[Place, ...] = ()
    wing: Wing | None = None
    date: datetime.date | None = None
    columns: Mapping[str, str] | None = None
    wing_class: str | None = None  # as asked for; None: that of the wing, else any foot-launched wing's

    @property
    def recipe(self) -> Recipe:
        """The same for a batch."""
        settings = settings_for(self.wing_class) if self.wing_class else None
        return Recipe(settings, self.places, self.wing, self.date)


def kept_recipe(recipe: Recipe, columns: Mapping[str, str] | None) -> KeptRecipe:
    """What the logbook keeps of a recipe."""
    wing_class = recipe.settings.wing_class if recipe.settings else None
    return KeptRecipe(recipe.places, recipe.wing, recipe.date, dict(columns) if columns else None, wing_class)


def recipe_bytes(kept: KeptRecipe) -> bytes:
    """A recipe as JSON; the same recipe gives the same bytes."""
    return msgspec.json.encode(kept, order="sorted")


def recipe_from(data: bytes) -> KeptRecipe:
    """The recipe that `recipe_bytes` made; BookError where it is damaged."""
    try:
        return msgspec.json.decode(data, type=KeptRecipe)
    except msgspec.MsgspecError as error:
        raise BookError("how a log was analysed is damaged in the logbook", "take it from a backup") from error


@cache
def analysis_digest() -> str:
    """A short digest of the code that results depend on: results with another one are out of date."""
    root = Path(__file__).parent.parent
    digest = hashlib.sha256()
    for part in _ANALYSIS:
        place = root / part
        for file in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            digest.update(file.relative_to(root).as_posix().encode())
            digest.update(file.read_bytes())
    return digest.hexdigest()[:12]
