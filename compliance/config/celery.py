"""The Celery app and its timetable. `celery -A compliance.config.celery worker` and `... beat`."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "compliance.config.settings")
TICK_S = 60.0
# Often, since a person's minute between two mails may end at any second; with nothing due it costs a few queries.
TELL_S = 10.0
# A morning may come a little late.
OVERDUE_S = 300.0
ANSWERS_S = 3600.0

app = Celery("compliance")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["alarms", "compliance"])
# A tick that waited longer than its period is worthless: the next one does the same.
_expiring = {"expires": TICK_S - 5}
app.conf.beat_schedule = {
    "assess stale facilities": {
        "task": "compliance.tasks.assess_stale",
        "schedule": TICK_S,
        "options": _expiring,
    },
    "tell what is overdue": {
        "task": "compliance.tasks.tell_overdue",
        "schedule": OVERDUE_S,
        "options": {"expires": OVERDUE_S - 5},
    },
    "drop old answers": {
        "task": "compliance.tasks.drop_old_answers",
        "schedule": ANSWERS_S,
        "options": {"expires": ANSWERS_S - 5},
    },
    "tell people": {
        "task": "alarms.tasks.tell",
        "schedule": TELL_S,
        "options": {"expires": TELL_S - 1},
    },
}
