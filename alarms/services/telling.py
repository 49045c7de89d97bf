"""Closes function checks that are over, ends shelving that is and answers that were outlasted, escalates and sends
until nothing is due."""

from collections.abc import Callable
from datetime import datetime, timedelta

from alarms.services.escalation import escalate_due
from alarms.services.exercise_closing import close_due, hear_late
from alarms.services.running_out import call_outlasted, end_shelving_due
from alarms.services.sending import send_due

SENSORS_A_DRAIN = 100
CHECKS_A_PASS = 20
ALARMS_A_PASS = 100
MAILS_A_PASS = 20


def drain(*, clock: Callable[[], datetime], at_most: timedelta) -> None:
    """Tell everybody who is to be told by now. Ends when nothing is due, or when the time is used up: what is left
    stays in the table."""
    until = clock() + at_most
    hear_late(now=clock(), limit=SENSORS_A_DRAIN)
    while clock() < until:
        closed = close_due(now=clock(), limit=CHECKS_A_PASS)
        back = end_shelving_due(now=clock(), limit=ALARMS_A_PASS)
        again = call_outlasted(now=clock(), limit=ALARMS_A_PASS)
        looked_at = escalate_due(now=clock(), limit=ALARMS_A_PASS)
        tried = send_due(now=clock(), clock=clock, limit=MAILS_A_PASS)
        if not closed and not back and not again and not looked_at and not tried:
            return
