"""What the link in a mail stands for: which alarm, and whether its person may still answer."""

from dataclasses import dataclass
from datetime import datetime

from alarms.models import Alarm, Notice
from alarms.services.exercise_marks import is_exercised
from alarms.services.links import LinkInvalid, notice_of_link
from alarms.tenancy import organisations_holding
from equipment.tenancy import Right


@dataclass(frozen=True)
class Opened:
    """A link that is good: the alarm as it stands, the person it was sent to, and whether they may acknowledge."""

    alarm: Alarm
    person: str
    may_answer: bool

    @property
    def exercised(self) -> bool:
        """Whether a function check that goes on raised it: then nobody answers it yet."""
        return is_exercised(self.alarm)


def open_link(token: str, *, now: datetime) -> Opened:
    """Raises `LinkInvalid`, also when the person's organisation may no longer see the facility."""
    notice = Notice.objects.filter(pk=notice_of_link(token)).first()
    if notice is None:
        raise LinkInvalid
    alarm = Alarm.objects.select_related("facility", "component", "exercise").filter(notices=notice).first()
    if alarm is None or notice.organisation_id not in organisations_holding(
        Right.READ, alarm.facility, now=now
    ):
        raise LinkInvalid
    answering = organisations_holding(Right.ANSWER, alarm.facility, now=now)
    return Opened(
        alarm=alarm.whole,
        person=f"{notice.name} ({notice.email}), by the link in the mail",
        may_answer=notice.organisation_id in answering,
    )
