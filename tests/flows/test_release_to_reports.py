"""An alarm that nobody explains becomes a suspected release, a site check finds it, and every clock of the law is met.

40 CFR 280.50 (24 hours), 280.52 (7 days), 280.61 (24 hours), 280.62(b) (20 days), 280.63(b) and 280.64(d) (45 days).
"""

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine

from compliance.services import assess
from tests import world

NOW = datetime(2026, 3, 4, 15, 0, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
SUSPECTED = ("report-suspected-release", "investigate-suspected-release")
CONFIRMED = (
    "confirmed-release-initial-response",
    "abatement-report",
    "site-characterisation-report",
    "free-product-report",
)


class Story:
    """What happens at one facility, told through the API; the clock stands where the last step put it."""

    def __init__(self, client, site) -> None:
        self.client, self.site, self.steps = client, site, 0

    def send(self, at: datetime, path: str, body: dict) -> dict:
        self.steps += 1
        with time_machine.travel(at, tick=False):
            answer = self.client.post(
                f"/api/v1/{path}", body, format="json", headers={"Idempotency-Key": f"step-{self.steps}"}
            )
        assert answer.status_code in (200, 201), answer.content
        return answer.json()

    def raised(self, at: datetime, condition: str = "sump-fuel") -> str:
        event = {
            "id": f"e-{self.steps}",
            "device": "SN1",  # the sensor that is the method: 40 CFR 280.50(c)
            "condition": condition,
            "signal": "raised",
            "occurred_at": at.isoformat(),
        }
        body = {"source": "gateway-1", "events": [event]}
        return f"alarm:{self.send(at, f'facilities/{self.site.pk}/events', body)['opened'][0]}"

    def did(self, at: datetime, activity: str, **stated) -> dict[str, str]:
        """A record of the facility; the standings that it moved, by rule."""
        deed = {
            "activity": activity,
            "performed_at": at.isoformat(),
            "external_id": f"r-{self.steps}",
            **stated,
        }
        answer = self.send(at, f"facilities/{self.site.pk}/records", {"records": [deed]})
        return {move["rule"]: move["after"]["standing"] for move in answer["moved"]}

    def clocks(self, at: datetime, *rules: str) -> dict[str, str]:
        """Where the duties stand at that moment."""
        with time_machine.travel(at, tick=False):
            assess.drain(clock=lambda: at)
            found = self.client.get(f"/api/v1/facilities/{self.site.pk}/obligations", {"limit": 200}).json()
        rows = {row["rule"]: row for row in found["results"]}
        return {rule: rows[rule]["standing"] for rule in rules if rule in rows}

    def due(self, rule: str) -> str:
        found = self.client.get("/api/v1/obligations", {"rule": rule}).json()["results"]
        [row] = found
        return row["due"]


@pytest.fixture
def story(own, owner_client) -> Story:
    world.line(own)
    return Story(owner_client, own)


def test_from_an_alarm_to_the_last_report_every_clock_runs_and_is_met(story):
    alarm = story.raised(NOW)
    assert story.clocks(NOW, *SUSPECTED, *CONFIRMED) == dict.fromkeys(SUSPECTED, "due soon")

    suspected(story, alarm)
    confirmed_at = NOW + 2 * DAY + HOUR
    release = confirmed(story, alarm, confirmed_at)
    reported(story, release, confirmed_at)

    every = (*SUSPECTED, *CONFIRMED)
    assert story.clocks(confirmed_at + 60 * DAY, *every) == dict.fromkeys(every, "met")


def suspected(story: Story, alarm: str) -> None:
    """Reported in three hours, looked into after two days."""
    told = story.did(
        NOW + 3 * HOUR, "report-to-agency", measurements={"report": "suspected release"}, regarding=alarm
    )
    assert told["report-suspected-release"] == "met"
    looked = story.did(
        NOW + 2 * DAY, "site-check", outcome="fail", measurements={"release_found": True}, regarding=alarm
    )
    assert looked["investigate-suspected-release"] == "met"


def confirmed(story: Story, alarm: str, at: datetime) -> str:
    """The release on 6 March 2026: its four clocks start, 24 hours, 20 and 45 days by the standard library."""
    number = int(alarm.removeprefix("alarm:"))
    body = {"confirmed_at": at.isoformat(), "free_product": True, "alarm": number}
    stated = story.send(at, f"facilities/{story.site.pk}/releases", body)
    assert story.clocks(at, *CONFIRMED) == dict.fromkeys(CONFIRMED, "due soon")
    assert datetime.fromisoformat(story.due("confirmed-release-initial-response")) == at + DAY
    assert story.due("abatement-report") == str(date(2026, 3, 6) + timedelta(days=20))
    assert story.due("site-characterisation-report") == str(date(2026, 3, 6) + timedelta(days=45))
    assert story.due("free-product-report") == str(date(2026, 3, 6) + timedelta(days=45))
    return f"release:{stated['id']}"


def reported(story: Story, release: str, at: datetime) -> None:
    """Each on the last day of its clock."""
    told = {"measurements": {"report": "confirmed release"}, "regarding": release}
    assert story.did(at + DAY, "report-to-agency", **told)["confirmed-release-initial-response"] == "met"
    for days, filing in (
        (20, "initial abatement"),
        (45, "site characterisation"),
        (45, "free product removal"),
    ):
        filed = {"measurements": {"filing": filing}, "regarding": release}
        assert "met" in story.did(at + days * DAY, "document-filed", **filed).values()


def test_without_any_report_every_clock_runs_out(story):
    """The same days with nothing filed: the minute after each due, and the day after."""
    story.raised(NOW)
    assert story.clocks(NOW + DAY, SUSPECTED[0]) == {SUSPECTED[0]: "due soon"}
    assert story.clocks(NOW + DAY + timedelta(minutes=1), SUSPECTED[0]) == {SUSPECTED[0]: "overdue"}
    assert story.clocks(NOW + 8 * DAY, SUSPECTED[1]) == {SUSPECTED[1]: "overdue"}


def test_acknowledging_stops_nothing_and_an_answer_with_its_proof_does(story):
    """40 CFR 280.50(c)(2): held by the containment, emptied and put right at once."""
    alarm = story.raised(NOW)
    number = alarm.removeprefix("alarm:")
    story.send(NOW + HOUR, f"alarms/{number}/acknowledgement", {"note": "false alarm"})
    assert story.clocks(NOW + HOUR, *SUSPECTED) == dict.fromkeys(SUSPECTED, "due soon")

    done = (NOW + 2 * HOUR).isoformat()
    story.send(
        NOW + 3 * HOUR,
        f"alarms/{number}/dispositions",
        {"type": "contained", "at": done, "evidence": {"repaired_at": done, "liquid_removed_at": done}},
    )

    assert story.clocks(NOW + 8 * DAY, *SUSPECTED) == {}


def test_a_failed_test_that_a_contractor_posts_starts_the_operators_clock(story, contractor_client):
    """40 CFR 280.50(c): a result of a release-detection method; the chain of (c)(1) answers it."""
    story.client = contractor_client
    tank = {"subjects": ["T1"]}
    moved = story.did(NOW, "tank-tightness-test", outcome="fail", measurements=world.LEAKING_TANK, **tank)
    assert moved["report-failed-result"] == "due soon"
    failed = contractor_client.get(f"/api/v1/facilities/{story.site.pk}/records").json()["results"][0]["id"]

    story.did(NOW + HOUR, "repair", regarding=f"record:{failed}", **tank)
    repair = contractor_client.get(f"/api/v1/facilities/{story.site.pk}/records").json()["results"][0]["id"]
    tight = {"outcome": "pass", "measurements": world.TIGHT_TANK, "regarding": f"record:{repair}"}
    moved = story.did(NOW + 5 * HOUR, "tank-tightness-test", **tight, **tank)

    assert (moved["report-failed-result"], moved["investigate-failed-result"]) == ("met", "met")


def test_what_a_person_noticed_and_what_a_walkthrough_found_start_clocks(story):
    """40 CFR 280.50(a), (b)."""
    at = NOW.isoformat()
    story.send(
        NOW,
        f"facilities/{story.site.pk}/site-events",
        {"type": "sign of a release noticed", "happened_at": at},
    )
    story.did(NOW, "walkthrough", measurements={"areas": ["spill"], "unusual_condition": True})

    rules = ("report-noticed-sign", "report-unusual-condition")
    assert story.clocks(NOW + DAY, *rules) == dict.fromkeys(rules, "due soon")
    assert story.clocks(NOW + DAY + timedelta(minutes=1), *rules) == dict.fromkeys(rules, "overdue")
