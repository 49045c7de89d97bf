"""What is kept of a request under an idempotency key: that it was made, for good; what it was answered, for a while."""

from datetime import datetime, timedelta

import pytest
from django.conf import settings

from compliance.config.celery import app
from equipment.models import Submission
from equipment.services import submissions
from equipment.services.submissions import (
    KEPT,
    Answer,
    AnswerNotKept,
    KeyReused,
    answer_once,
    drop_old_answers,
)
from tests.world import NOW

SECOND = timedelta(seconds=1)


@pytest.fixture
def done() -> list[str]:
    """What was done so far."""
    return []


def ask(owner, done, key: str = "k", mark: str = "a", *, now: datetime = NOW) -> Answer:
    def work() -> Answer:
        done.append(key)
        return Answer(201, {"id": len(done)})

    return answer_once(organisation=owner, key=key, fingerprint=mark * 64, now=now, work=work)


def drop(now: datetime, *, at_most: timedelta = 60 * SECOND) -> int:
    ticks = iter(now + tick * SECOND for tick in range(1000))
    return drop_old_answers(clock=lambda: next(ticks), at_most=at_most)


def test_a_repeat_is_answered_as_before_up_to_the_day(owner, done):
    ask(owner, done)
    drop(NOW + KEPT - SECOND)

    assert ask(owner, done, now=NOW + KEPT) == Answer(201, {"id": 1}, repeated=True)


def test_a_later_repeat_does_nothing_and_says_so(owner, done):
    ask(owner, done)

    assert drop(NOW + KEPT) == 1
    with pytest.raises(AnswerNotKept, match="nothing was done again"):
        ask(owner, done, now=NOW + KEPT)
    assert done == ["k"]


def test_other_content_under_the_key_is_refused_for_good(owner, done):
    ask(owner, done)
    drop(NOW + KEPT)

    with pytest.raises(KeyReused):
        ask(owner, done, mark="b", now=NOW + 100 * KEPT)


def test_younger_answers_stay(owner, done):
    ask(owner, done, "old")
    ask(owner, done, "young", now=NOW + SECOND)

    assert drop(NOW + KEPT) == 1
    assert list(Submission.objects.exclude(answer="").values_list("key", flat=True)) == ["young"]


def test_they_are_dropped_in_batches_until_none_is_left_or_the_time_is_up(owner, done, monkeypatch):
    monkeypatch.setattr(submissions, "BATCH", 2)
    for number in range(7):
        ask(owner, done, f"k{number}")

    assert drop(NOW + KEPT, at_most=3 * SECOND) == 4, "the clock is asked before each batch"
    assert drop(NOW + KEPT) == 3
    assert drop(NOW + KEPT) == 0


def test_the_timetable_drops_them_and_the_description_of_the_api_says_how_long_they_are_kept():
    assert "compliance.tasks.drop_old_answers" in {one["task"] for one in app.conf.beat_schedule.values()}
    assert f"for {KEPT.days} days" in settings.SPECTACULAR_SETTINGS["DESCRIPTION"]
