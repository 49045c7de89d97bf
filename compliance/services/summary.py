"""How a facility stands, in one row: counted findings, the worst of them, and its place in the portfolio."""

from collections import Counter
from collections.abc import Iterable

from compliance.models import OPEN_WORDS, Standing, StandingWord
from compliance.rules.findings import Finding

# Above any severity there is: what nobody could judge may be the worst of all, and must never look best.
NOT_JUDGED = len(OPEN_WORDS) + 1
# More facilities than there will ever be; keeps the ranks of two severities apart.
_PLACES = 10**12


def summarise(standing: Standing, findings: Iterable[Finding]) -> None:
    """Set counts, worst and rank; saves nothing. `met` where nothing is open."""
    counts = Counter(finding.standing for finding in findings)
    worst = next((word for word in OPEN_WORDS if counts[word]), None)
    standing.counts = dict(counts)
    standing.worst = worst or StandingWord.MET
    standing.rank = rank_of(standing, len(OPEN_WORDS) - OPEN_WORDS.index(worst) if worst else 0)


def rank_of(standing: Standing, severity: int) -> int:
    """Where a facility comes in the portfolio: the greater, the sooner; of two alike the one first on file."""
    return (severity + 1) * _PLACES - standing.facility_id
