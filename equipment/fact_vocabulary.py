"""Words of people, documents, agencies, events and plans.

Closed lists are those that rules compare with; the types of documents and plans are open, because states add their own.
"""

from django.db.models import TextChoices


class OperatorClass(TextChoices):
    """Classes of operators: 40 CFR 280.12 and 280.241; one person may hold both A and B."""

    A = "A"
    B = "B"
    BOTH = "A/B"
    C = "C"


class FindingType(TextChoices):
    """What an agency determined: 40 CFR 280.244, and the terms of state programmes."""

    NON_COMPLIANCE = "non-compliance"
    SIGNIFICANT = "significant violation"
    ORDER = "order"
    NOTICE = "notice"


class SiteEventType(TextChoices):
    """What happens and starts a duty: 40 CFR 280.22, 280.50(a), 280.109, 280.114, and state rows."""

    OWNERSHIP = "ownership change"
    OPERATOR = "designated operator change"
    BREAKAWAY = "breakaway parted"
    COVER = "cover cancelled"
    BANKRUPTCY = "owner bankruptcy"
    FLOOD = "flood warning"
    SIGN = "sign of a release noticed"


# Types that rules ask for; any other text is allowed, one that nearly is a listed word is not.
DOCUMENT_TYPES = (
    "financial responsibility",
    "financial responsibility certification",
    "delivery certificate",
    "registration",
    "performance claim",
    "site assessment",
    "compatibility proof",
    "installation certification",
    "corrosion analysis",
    "maintenance schedule",
    "agency letter",
)
PLAN_TYPES = ("permanent closure", "change in service", "fuel switch", "installation")
