"""What can be done and recorded at a marina fuel system, by slug.

The content is in the `.toml` files beside this module, one file a family; a state adds its activity there.
"""

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from equipment.activities.definitions import Activity, Caution, Measurement
from equipment.activities.loading import CAUTIONS_FILE, CatalogueError, load_catalogue, load_cautions

__all__ = [
    "FOLDER",
    "Activity",
    "CatalogueError",
    "Caution",
    "Measurement",
    "UnknownActivity",
    "activity",
    "catalogue",
    "slugs",
    "standing_caution",
]

FOLDER = Path(__file__).parent


class UnknownActivity(LookupError):
    """No activity has this slug."""


@cache
def catalogue() -> Mapping[str, Activity]:
    """Every known activity by slug. Read once a process; raises CatalogueError naming the faulty file."""
    return MappingProxyType(load_catalogue(FOLDER))


def slugs() -> frozenset[str]:
    """The slugs that a record or a rule may name."""
    return frozenset(catalogue())


def activity(slug: str) -> Activity:
    """The activity with this slug; UnknownActivity lists the known ones."""
    try:
        return catalogue()[slug]
    except KeyError:
        raise UnknownActivity(
            f"no activity is called {slug!r}; known: {', '.join(sorted(catalogue()))}"
        ) from None


@cache
def standing_caution() -> Caution:
    """The sentence that stands under every field task, whatever the task."""
    return load_cautions(FOLDER / CAUTIONS_FILE)["standing"]
