"""What the rules say about each facility."""

from compliance.models.brine import BrineTriage
from compliance.models.obligations import OPEN_WORDS, Obligation, Standing, StandingWord
from compliance.models.verdicts import RecordVerdict, VerdictWord

__all__ = [
    "OPEN_WORDS",
    "BrineTriage",
    "Obligation",
    "RecordVerdict",
    "Standing",
    "StandingWord",
    "VerdictWord",
]
