"""What the rules say about each facility."""

from compliance.models.obligations import OPEN_WORDS, Obligation, Standing, StandingWord
from compliance.models.verdicts import RecordVerdict, VerdictWord

__all__ = ["OPEN_WORDS", "Obligation", "RecordVerdict", "Standing", "StandingWord", "VerdictWord"]
