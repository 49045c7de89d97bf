"""Tables of what happened and who was told; one file a question."""

from alarms.models.alarms import Alarm
from alarms.models.call_lists import CallList, CallStep, Contact, Rota, RotaTurn, Substitution
from alarms.models.dispositions import AlarmAttachment, AlarmKnowledge, Disposition, DispositionAttachment
from alarms.models.events import AlarmSource, Event
from alarms.models.exercises import Exercise, ExerciseSensor
from alarms.models.fallback import FallbackList, FallbackPerson
from alarms.models.notices import Attempt, Digest, Mailbox, Notice, Outcome
from alarms.models.steps import AlarmStep
from alarms.models.unreadable import UnreadableLine

__all__ = [
    "Alarm",
    "AlarmAttachment",
    "AlarmKnowledge",
    "AlarmSource",
    "AlarmStep",
    "Attempt",
    "CallList",
    "CallStep",
    "Contact",
    "Digest",
    "Disposition",
    "DispositionAttachment",
    "Event",
    "Exercise",
    "ExerciseSensor",
    "FallbackList",
    "FallbackPerson",
    "Mailbox",
    "Notice",
    "Outcome",
    "Rota",
    "RotaTurn",
    "Substitution",
    "UnreadableLine",
]
