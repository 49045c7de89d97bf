"""What counts of a record: the outcome that its numbers show, or, where they show none, what may be believed.

Computed pass and fail count, whatever was reported. A reported fail is taken back by nothing less than numbers that
pass: it stands where the procedure was not kept or numbers are missing. A reported pass never stands in for numbers:
without them the outcome is not known. What no protocol judges stands as reported. Findings of yes and no are the words
of whoever reports the outcome: where all of them are good and the outcome is a fail, the worse of the two counts.
"""

from collections.abc import Sequence

import msgspec

from compliance.protocols.verdicts import YES, Outcome, Verdict, disagrees

# Worst first: one test of several devices is as good as the worst of them.
WORST_FIRST: tuple[Outcome, ...] = ("fail", "inconclusive", "incomplete", "pass")

OVERSTATED = "The record reports a pass and its numbers fail. The numbers count; correct whichever of the two is wrong."
UNDERSTATED = (
    "The record reports a fail and its numbers pass. The numbers count for the duty to test; a clock that a failed "
    "result starts runs on until the record is corrected: whoever saw it fail may have seen what no number says."
)

BESIDE_FINDINGS = (
    "The record reports a fail and names no finding that fails. The fail counts: state what was wrong, or correct the "
    "record."
)


class Counted(msgspec.Struct, frozen=True, kw_only=True):
    """The outcome that counts (None: not known), beside the verdict behind it (None: nothing to compute)."""

    outcome: str | None
    reported: str | None
    verdict: Verdict | None = None

    @property
    def differs(self) -> bool:
        """Whether the record says otherwise than what counts."""
        return self.reported is not None and self.reported != self.outcome

    @property
    def missing(self) -> tuple[str, ...]:
        """Measurements, by the catalogue's names, without which the protocol gives no outcome."""
        if self.verdict is None or self.verdict.outcome != "incomplete":
            return ()
        return self.verdict.missing


def counted(reported: str | None, verdicts: Sequence[Verdict], *, outcome_used: bool) -> Counted:
    """What counts of a record judged for each of its subjects; no verdict: what it reports.

    `outcome_used`: False for an activity that has no outcome because rules compare its numbers; it gets none here.
    """
    if not verdicts:
        return Counted(outcome=reported, reported=reported)
    worst = min(verdicts, key=lambda each: WORST_FIRST.index(each.outcome))
    findings = _only_findings(worst)
    found = msgspec.structs.replace(
        worst,
        reported=reported,
        disagreement=disagrees(reported, worst.outcome),
        notes=(*worst.notes, *_on_disagreement(reported, worst.outcome, findings=findings)),
    )
    outcome = _outcome(reported, worst.outcome, findings=findings) if outcome_used else reported
    return Counted(outcome=outcome, reported=reported, verdict=found)


def _only_findings(verdict: Verdict) -> bool:
    """Whether nothing was measured: each check behind it is a yes or a no."""
    return all(each.criterion.unit == YES for each in verdict.checks)


def _outcome(reported: str | None, computed: Outcome, *, findings: bool) -> str | None:
    match computed:
        case "pass" if findings and reported == "fail":
            return reported
        case "pass" | "fail":
            return computed
        case "inconclusive":
            return "fail" if reported == "fail" else computed
        case "incomplete":
            return reported if reported in ("fail", "inconclusive") else None


def _on_disagreement(reported: str | None, computed: Outcome, *, findings: bool) -> list[str]:
    match reported, computed:
        case "pass", "fail":
            return [OVERSTATED]
        case "fail", "pass":
            return [BESIDE_FINDINGS if findings else UNDERSTATED]
        case _:
            return []
