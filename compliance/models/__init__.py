"""What the rules say about each facility."""

from compliance.models.brine import BrineTriage
from compliance.models.obligations import OPEN_WORDS, Obligation, Standing, StandingWord

__all__ = ["OPEN_WORDS", "BrineTriage", "Obligation", "Standing", "StandingWord"]
