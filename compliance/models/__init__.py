"""What the rules say about each facility."""

from compliance.models.obligations import OPEN_WORDS, Obligation, Standing, StandingWord

__all__ = ["OPEN_WORDS", "Obligation", "Standing", "StandingWord"]
