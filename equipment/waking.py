"""Wakes a background task after commit. A courtesy only: the tables are the queue and the minute tick repairs the rest.

Doorways call it, services never do. Whatever the broker does, the request is answered: no retry, and errors are
logged by Django instead of raised.
"""

from celery import Task
from django.db import transaction


def wake(task: "Task[[], None]") -> None:
    """Say "there may be work" once the present transaction has committed."""

    def send() -> None:  # a function, since Django logs a failed callback by its name and a partial has none
        task.apply_async(retry=False)

    transaction.on_commit(send, robust=True)
