"""Writes the daily mail about what is overdue."""

from datetime import date

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string

from alarms.services.first_people import FirstPerson
from alarms.services.mail import address_of, one_line
from compliance.models import OverdueDigest
from compliance.services.overdue_list import OverdueList
from equipment.activities.catalogue import standing_caution


def compose(
    digest: OverdueDigest, person: FirstPerson, listed: OverdueList, *, before: str | None
) -> EmailMultiAlternatives:
    """The mail of a day; `before`: Message-ID of the one sent last, which it follows (RFC 5322 section 3.6.4)."""
    context = {
        "subject": subject_of(listed),
        "day": f"{digest.local_day:%A %d %B %Y}",
        "listed": listed,
        "person": person,
        "caution": standing_caution().text,
    }
    headers = {"Message-ID": digest.message_id, "Auto-Submitted": "auto-generated"}
    if before is not None:
        headers |= {"References": before, "In-Reply-To": before}
    mail = EmailMultiAlternatives(
        subject=subject_of(listed),
        body=render_to_string("compliance/overdue.txt", context),
        from_email=settings.MAIL_FROM,
        to=[address_of(person.name, person.email)],
        headers=headers,
    )
    mail.attach_alternative(render_to_string("compliance/overdue.html", context), "text/html")
    return mail


def subject_of(listed: OverdueList) -> str:
    """How much is open, in one line."""
    if not listed.sites:
        return "Nothing is overdue any more"
    things = "1 duty" if listed.count == 1 else f"{listed.count} duties"
    places = one_line(listed.sites[0].name) if len(listed.sites) == 1 else f"{len(listed.sites)} sites"
    if listed.count:
        return f"{things} overdue, failed or without a record: {places}"[:200]
    return f"The state could not be worked out: {places}"[:200]


def message_id(person: FirstPerson, day: date, *, name: str, domain: str) -> str:
    """The same for every try of the mail of a day; `name` stands for the address."""
    return f"<overdue.{person.organisation}.{day:%Y%m%d}.{name}@{domain}>"
