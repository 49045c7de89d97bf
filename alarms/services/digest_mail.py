"""Writes the mail that several notices share: every alarm in a few lines, the most urgent first, each with its link."""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string

from alarms.conditions import Condition, condition_or_unlisted, law_of
from alarms.lifecycle import MEANING, State
from alarms.models import Alarm, Digest, Notice
from alarms.services.links import link_to_answer, link_to_digest
from alarms.services.mail import address_of, exercise_words, local, one_line, place_words


@dataclass(frozen=True)
class Entry:
    """An alarm as a digest shows it, times in its facility's zone."""

    notice: Notice
    alarm: Alarm
    condition: Condition
    place: str
    state: str
    raised: str
    clock_until: str | None
    exercise: str | None
    link: str

    @property
    def first_step(self) -> str:
        """What to do before anything else."""
        return self.condition.first_steps[0]


def entry_of(notice: Notice, alarm: Alarm) -> Entry:
    """`alarm` has its facility and component at hand."""
    zone = ZoneInfo(alarm.facility.time_zone)
    return Entry(
        notice=notice,
        alarm=alarm,
        condition=condition_or_unlisted(alarm.condition),
        place=place_words(alarm),
        state=MEANING[State(alarm.state)],
        raised=local(alarm.raised_at, zone),
        clock_until=local(alarm.clock_until, zone) if alarm.clock_until else None,
        exercise=exercise_words(alarm),
        link=link_to_answer(notice.pk),
    )


def compose_digest(digest: Digest, entries: Sequence[Entry]) -> EmailMultiAlternatives:
    """The mail, to the person of the first entry; all are of one person. It begins a thread of its own: naming every
    alarm's earlier mails would make a header longer than mail carries."""
    once = _once_an_alarm(entries)
    sites = {entry.alarm.facility_id for entry in once}
    context = {
        "entries": once,
        "sites": len(sites),
        "subject": _subject(once, len(sites)),
        "link": link_to_digest(digest.pk),
        "laws": list(
            dict.fromkeys(
                law for one in once if (law := law_of(one.alarm.condition, one.alarm.condition_class))
            )
        ),
        "cautions": list(dict.fromkeys(c.text for entry in once for c in entry.condition.cautions)),
    }
    person = entries[0].notice
    mail = EmailMultiAlternatives(
        subject=str(context["subject"]),
        body=render_to_string("alarms/digest.txt", context),
        from_email=settings.MAIL_FROM,
        to=[address_of(person.name, person.email)],
        headers={"Message-ID": digest.message_id, "Auto-Submitted": "auto-generated"},
    )
    mail.attach_alternative(render_to_string("alarms/digest.html", context), "text/html")
    return mail


def _once_an_alarm(entries: Sequence[Entry]) -> list[Entry]:
    """Two calls about one alarm are one line, that of the later call."""
    latest = {entry.alarm.pk: entry for entry in sorted(entries, key=lambda one: one.notice.due_at)}
    return [entry for entry in entries if latest[entry.alarm.pk] is entry]


def _subject(entries: Sequence[Entry], sites: int) -> str:
    count = f"{len(entries)} alarms" if len(entries) > 1 else "1 alarm"
    where = f" at {sites} sites" if sites > 1 else ""
    return one_line(f"{count}{where}: {entries[0].notice.subject}{' and more' if len(entries) > 1 else ''}")[
        :200
    ]
