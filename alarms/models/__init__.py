"""Tables of what happened and who was told; one file a question."""

from alarms.models.alarms import Alarm
from alarms.models.call_lists import CallList, CallStep, Contact
from alarms.models.events import Event
from alarms.models.notices import Attempt, Notice, Outcome

__all__ = ["Alarm", "Attempt", "CallList", "CallStep", "Contact", "Event", "Notice", "Outcome"]
