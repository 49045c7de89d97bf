"""The federal pack alone, and one judgement of a small document with it."""

from functools import cache
from pathlib import Path

import compliance.rulepacks
from compliance.rules.loading import load_packs
from compliance.rules.packset import PackSet
from equipment.activities import catalogue

PACKS = Path(compliance.rulepacks.__file__).parent


@cache
def packs() -> PackSet:
    """The federal pack, its activities checked against the catalogue."""
    return load_packs([PACKS / "us_federal"], activities=catalogue.slugs())
