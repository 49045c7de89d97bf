"""What the rules say about each facility."""

from compliance.models.brine import BrineTriage
from compliance.models.obligations import OPEN_WORDS, Obligation, Standing, StandingWord
from compliance.models.overdue import OverdueDigest, OverdueReader
from compliance.models.verdicts import RecordVerdict, VerdictWord

__all__ = [
    "OPEN_WORDS",
    "BrineTriage",
    "Obligation",
    "OverdueDigest",
    "OverdueReader",
    "RecordVerdict",
    "Standing",
    "StandingWord",
    "VerdictWord",
]
