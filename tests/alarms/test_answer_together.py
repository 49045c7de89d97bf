"""The page behind a mail that several alarms share. Scanners of mail follow every link: common
practice, no source.

What may be answered in one press is our own choice: nothing urgent, and nothing that may be a release.
"""

import re

import pytest
from django.core import mail
from django.test import Client

from alarms.models import Alarm, Notice
from alarms.services.links import link_to_answer, link_to_digest
from tests.alarms.sites import minutes
from tests.alarms.test_digest import opened
from tests.alarms.test_mail import read
from tests.alarms.test_sending import send
from tests.world import NOW


@pytest.fixture
def calm(site) -> list[Alarm]:
    """Faults of equipment; no release, not urgent."""
    return opened(site, "SN1", "SU1", condition="sensor-fault")


@pytest.fixture
def urgent(site) -> Alarm:
    [alarm] = opened(site, "SN1", condition="sump-fuel")
    return alarm


@pytest.fixture
def address(calm, urgent) -> str:
    """Where the link of the mail leads."""
    send()
    [path] = re.findall(r"/alarms/answer-together/\S+", read(mail.outbox[0])[0])
    return path


def answered() -> set[str]:
    return set(Alarm.objects.exclude(acknowledged_at=None).values_list("condition", flat=True))


def test_opening_it_shows_every_alarm_and_acknowledges_none(address, calm, urgent):
    answer = Client().get(address)

    page = answer.content.decode()
    assert answer.status_code == 200
    assert all(f'id="a{alarm.pk}"' in page for alarm in (*calm, urgent))
    assert "3 not acknowledged yet" in page
    assert answered() == set()


@pytest.mark.parametrize("method", ["get", "head"])
def test_a_scanner_that_follows_links_acknowledges_nothing(address, method):
    getattr(Client(), method)(address, {"alarms": "alike"})

    assert answered() == set()


def test_one_press_acknowledges_one_alarm(address, urgent):
    answer = Client().post(address, {"alarms": str(urgent.pk)})

    urgent.refresh_from_db()
    assert (answer.status_code, answer["Location"]) == (303, f"{address}#a{urgent.pk}")
    assert urgent.acknowledged_by == "Ann (ann@example.com), by the link in the mail"
    assert answered() == {"sump-fuel"}


def test_one_press_for_all_leaves_out_what_is_urgent_or_may_be_a_release(address):
    page = Client().get(address).content.decode()
    Client().post(address, {"alarms": "alike"})

    assert "Acknowledge these 2" in page
    assert answered() == {"sensor-fault"}


@pytest.mark.parametrize(
    ("condition", "change"),
    [
        ("sensor-fault", {"priority": "high"}),
        ("sensor-fault", {"condition_class": "unusual operating condition"}),
        ("sensor-fault", {"condition_class": "monitoring result"}),
        ("sensor-fault", {"condition_class": "released product"}),
        ("sensor-fault", {"condition_class": None}),
    ],
    ids=str,
)
def test_nothing_that_somebody_must_look_at_is_answered_with_others(address, condition, change):
    Alarm.objects.filter(condition=condition).update(**change)
    Client().post(address, {"alarms": "alike"})

    assert answered() == set()


def test_a_second_press_changes_nothing(address):
    for _ in range(2):
        last = Client().post(address, {"alarms": "alike"})

    assert last.status_code == 303
    assert "1 not acknowledged yet" in Client().get(address).content.decode()


def test_an_alarm_of_another_mail_is_not_answered_by_this_link(address, site):
    [other] = opened(site, "P1", now=NOW + minutes(1))
    answer = Client().post(address, {"alarms": str(other.pk)})

    assert answer.status_code == 403
    assert answered() == set()


def test_a_link_is_good_for_its_own_page_only(address):
    notice = Notice.objects.first()
    one, together = link_to_answer(notice.pk), link_to_digest(notice.digest_id)
    swapped = [
        one.replace("/answer/", "/answer-together/"),
        together.replace("/answer-together/", "/answer/"),
        together[:-1] + ("a" if together[-1] != "a" else "b"),
    ]

    assert {Client().get(link).status_code for link in swapped} == {404}
    assert {Client().get(link).status_code for link in (one, together)} == {200}


def test_a_week_later_the_link_has_expired(address, monkeypatch):
    monkeypatch.setattr("django.core.signing.time.time", lambda: NOW.timestamp() + 400 * 86400 * 10)

    assert Client().post(address, {"alarms": "alike"}).status_code == 410
    assert answered() == set()


def test_whoever_lost_access_to_the_site_sees_nothing(address, site):
    site.grants.filter(organisation=site.operator).update(ends_at=NOW)

    assert Client().get(address).status_code == 404


def test_an_organisation_that_may_only_look_can_answer_nothing(address, site):
    site.grants.filter(organisation=site.operator).update(role="agency")
    page = Client().get(address).content.decode()
    answers = [Client().post(address, {"alarms": one}) for one in ("alike", str(Alarm.objects.first().pk))]

    assert "may see this alarm, but not answer it" in page
    assert [one.status_code for one in answers] == [303, 403]
    assert answered() == set()


def test_the_address_is_kept_from_other_sites_and_nothing_is_loaded(address):
    answer = Client().get(address)

    assert answer["Referrer-Policy"] == "no-referrer"
    assert "default-src 'none'" in answer["Content-Security-Policy"]
    assert "no-store" in answer["Cache-Control"]
