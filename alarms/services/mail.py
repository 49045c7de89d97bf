"""Writes the mail of a notice: what, where, since when, what to do, and who is called next."""

from datetime import datetime, timedelta
from email.utils import formataddr
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string

from alarms.causes import is_about_clock
from alarms.clock_calls import Part
from alarms.conditions import condition_or_unlisted, law_of
from alarms.escalation import Plan, call_at
from alarms.lifecycle import KEPT, MEANING, State
from alarms.models import Alarm, Notice
from alarms.services.escalation import OVER, mark_of
from alarms.services.links import link_to_answer
from alarms.services.plans import plan_for


def compose(notice: Notice, alarm: Alarm, *, now: datetime) -> EmailMultiAlternatives:
    """The mail as it is true now, with the notice's own Message-ID: a repeat is the same mail to a reader.

    `alarm` has its facility and component at hand.
    """
    plan = plan_for(alarm, now=now)
    context = alarm_context(alarm) | {
        "notice": notice,
        "link": link_to_answer(notice.pk),
        "step": step_words(plan, notice),
        "next": next_words(plan, alarm),
        "clock_call": clock_words(notice, alarm, now=now),
    }
    mail = EmailMultiAlternatives(
        subject=notice.subject,
        body=render_to_string("alarms/told.txt", context),
        from_email=settings.MAIL_FROM,
        to=[address_of(notice.name, notice.email)],
        headers=_headers(notice),
    )
    mail.attach_alternative(render_to_string("alarms/told.html", context), "text/html")
    return mail


def alarm_context(alarm: Alarm) -> dict[str, object]:
    """What mail and page both show of an alarm, times in the facility's zone."""
    zone = ZoneInfo(alarm.facility.time_zone)
    return {
        "alarm": alarm,
        "facility": alarm.facility,
        "mark": mark_of(alarm),
        "condition": condition_or_unlisted(alarm.condition),
        "place": place_words(alarm),
        "state": MEANING[State(alarm.state)],
        "kept": MEANING[State(alarm.state)] if alarm.state in KEPT else None,
        "raised": local(alarm.raised_at, zone),
        "last_raised": local(alarm.last_raised_at, zone) if alarm.occurrences > 1 else None,
        "cleared": local(alarm.cleared_at, zone) if alarm.cleared_at else None,
        "exercise": exercise_words(alarm),
        "clock": one_line(alarm.clock_note) if alarm.clock_note else None,
        "clock_until": local(alarm.clock_until, zone) if alarm.clock_until else None,
        "law": law_words(alarm),
        "answered": local(alarm.acknowledged_at, zone) if alarm.acknowledged_at else None,
    }


def address_of(name: str, email: str) -> str:
    """Whom a mail goes to, as a header holds it."""
    return formataddr((one_line(name), email), charset="utf-8")


def law_words(alarm: Alarm) -> str | None:
    """What the law usually wants done about such an alarm, as long as nobody has judged or answered this one."""
    law = law_of(alarm.condition, alarm.condition_class)
    if law is None or alarm.clock_until is not None or alarm.dispositions.filter(withdrawn_at=None).exists():
        return None
    return f"{law.text} ({law.cite})"


def exercise_words(alarm: Alarm) -> str | None:
    """What a function check has to do with the alarm; None where none has."""
    check = alarm.exercise
    if check is None:
        return None
    if not alarm.is_exercise:
        return (
            f"It was taken for a part of the function check led by {one_line(check.led_by)}, and is none: it was in "
            "alarm before or after it. Treat it as real."
        )
    until = local(check.window.ends_at, ZoneInfo(alarm.facility.time_zone))
    return (
        f"A function check led by {one_line(check.led_by)} raised it; it goes on until {until}. Nobody else is called "
        "while it does. What still is in alarm at its end is real, and is called from the first step on. If you know "
        "of no such check, treat it as real now."
    )


def place_words(alarm: Alarm) -> str:
    """Where it is, as people on site call it."""
    if alarm.component is None:
        return f"device {alarm.device} (not in the register)" if alarm.device else "the whole facility"
    kind = alarm.component.get_kind_display()
    label = f", {alarm.component.label}" if alarm.component.label else ""
    return f"{kind} {alarm.component.tag}{label}"


def step_words(plan: Plan, notice: Notice) -> str:
    """Which step of the call list a notice is."""
    if is_about_clock(notice.cause):
        return "Called because a clock of the law is running, whether or not somebody has acknowledged."
    last = len(plan.steps)
    if notice.step <= last:
        return f"Step {notice.step} of {last} of the call list."
    return f"The last step of the call list, called again (call {notice.step})."


def next_words(plan: Plan, alarm: Alarm) -> str:
    """Who is told next if nobody answers, and when."""
    if alarm.acknowledged_at is not None:
        return "Nobody else is called: it was acknowledged."
    if alarm.is_exercise:
        return "Nobody else is called while the function check goes on."
    at = alarm.next_step_at
    call = call_at(plan, alarm.next_step, due_at=at, as_of=at) if at is not None else None
    if at is None or call is None:
        return "Nobody else is called."
    names = ", ".join(one_line(person.name) for person in call.recipients)
    return f"If nobody acknowledges, {names} will be told at {local(at, ZoneInfo(alarm.facility.time_zone))}."


def clock_words(notice: Notice, alarm: Alarm, *, now: datetime) -> str | None:
    """How much of the legal time is over and how much is left; None in a mail that is not about a clock."""
    if not is_about_clock(notice.cause) or alarm.clock_until is None:
        return None
    left = alarm.clock_until - now
    if left < timedelta(minutes=1):
        return "The legal time is over. Report now if that was not done, and write down when and to whom."
    hours, minutes = divmod(int(left.total_seconds()) // 60, 60)
    return f"{OVER[Part(notice.step)]}: {hours} h {minutes} min are left."


def local(moment: datetime, zone: ZoneInfo) -> str:
    """A moment as people at the site read it, with the zone's own abbreviation."""
    return f"{moment.astimezone(zone):%a %d %b %Y %H:%M %Z}"


def one_line(text: str) -> str:
    """No line breaks: what goes into a header stays in that header."""
    return " ".join(text.split())


def _headers(notice: Notice) -> dict[str, str]:
    """RFC 5322 3.6.4 for the thread; RFC 3834 section 5 keeps out-of-office replies away."""
    headers = {"Message-ID": notice.message_id, "Auto-Submitted": "auto-generated"}
    first = Notice.objects.filter(alarm=notice.alarm_id).order_by("pk").first()
    if first is None or first.pk == notice.pk:
        return headers
    parent = _last_mail(notice) or first.message_id
    references = dict.fromkeys([first.message_id, parent])
    return headers | {"References": " ".join(references), "In-Reply-To": parent}


def _last_mail(notice: Notice) -> str | None:
    """The mail by which this person last heard of the alarm, which may have been shared with other alarms."""
    heard = Notice.objects.filter(
        alarm=notice.alarm_id, organisation=notice.organisation_id, email=notice.email
    ).exclude(sent_at=None)
    last = heard.exclude(pk=notice.pk).select_related("digest").order_by("-sent_at", "-pk").first()
    return last.carried_as if last is not None else None
