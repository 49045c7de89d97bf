"""How a facility stands, in one row: counted findings and the worst of them."""

from collections import Counter
from collections.abc import Iterable

from compliance.models import OPEN_WORDS, Standing
from compliance.rules.findings import Finding


def summarise(standing: Standing, findings: Iterable[Finding]) -> None:
    """Set counts, worst and severity; saves nothing."""
    counts = Counter(finding.standing for finding in findings)
    worst = next((word for word in OPEN_WORDS if counts[word]), None)
    standing.counts = dict(counts)
    standing.worst = worst
    standing.severity = len(OPEN_WORDS) - OPEN_WORDS.index(worst) if worst else 0
