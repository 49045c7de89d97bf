"""The page behind the link. What a page needs to be usable: WCAG 2.2 (labels 1.3.1, language 3.1.1, title 2.4.2, use of
colour 1.4.1, contrast 1.4.3); status codes: RFC 9110."""

import re
from datetime import timedelta

import pytest
import time_machine
from django.core import signing
from django.test import Client
from django.utils import timezone

from alarms.conditions import condition_or_unlisted
from alarms.models import Alarm
from alarms.services.escalation import escalate_due
from alarms.services.links import LINK_LASTS, link_to_answer
from equipment.vocabulary import AccessRole
from tests import world
from tests.alarms.sites import call_list, contact, minutes, raised
from tests.world import NOW


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOW + minutes(3), tick=False) as traveller:
        yield traveller


@pytest.fixture
def alarm(site):
    opened = raised(site)
    escalate_due(now=NOW, limit=10)
    return opened


def address(alarm: Alarm) -> str:
    link = link_to_answer(alarm.notices.order_by("pk").first().pk)
    return "/" + link.split("/", 3)[3]


def visit(path: str, method: str = "get", **sent: str):
    """A browser without cookies, as many mail programs are."""
    return getattr(Client(enforce_csrf_checks=True), method)(path, sent, secure=True)


def test_following_the_link_shows_the_alarm_and_changes_nothing(alarm):
    page = visit(address(alarm))

    alarm.refresh_from_db()
    assert (page.status_code, alarm.state) == (200, "unacknowledged")
    assert "Liquid in a sump: containment sump SU1" in page.content.decode()
    assert "Wed 04 Mar 2026 10:00 EST" in page.content.decode()


def test_what_to_do_first_stands_before_the_button(alarm):
    html = visit(address(alarm)).content.decode()

    assert html.index(condition_or_unlisted(alarm.condition).first_steps[0]) < html.index("<button")


@pytest.mark.parametrize(("method", "status"), [("head", 200), ("put", 405), ("delete", 405)])
def test_no_other_method_acknowledges(alarm, method, status):
    answer = visit(address(alarm), method)

    alarm.refresh_from_db()
    assert (answer.status_code, alarm.state) == (status, "unacknowledged")


def test_the_button_acknowledges_in_the_name_of_who_was_told(alarm):
    path = address(alarm)
    answer = visit(path, "post", note="pump is\noff")
    page = visit(path).content.decode()

    alarm.refresh_from_db()
    assert (answer.status_code, answer["Location"]) == (303, path)
    assert alarm.acknowledged_by == "Ann (ann@example.com), by the link in the mail"
    assert (alarm.acknowledged_note, alarm.acknowledged_at) == ("pump is off", timezone.now())
    assert "Acknowledged by Ann" in page
    assert "<form" not in page


def test_the_button_pressed_again_changes_nothing(alarm, clock):
    visit(address(alarm), "post", note="first")
    clock.shift(60)
    visit(address(alarm), "post", note="second")

    alarm.refresh_from_db()
    assert alarm.acknowledged_note == "first"


def test_an_expired_link_says_so_and_answers_nothing(alarm, clock):
    path = address(alarm)
    clock.shift(LINK_LASTS + timedelta(seconds=1))
    answers = [visit(path), visit(path, "post")]

    alarm.refresh_from_db()
    assert [one.status_code for one in answers] == [410, 410]
    assert "This link has expired" in answers[0].content.decode()
    assert alarm.state == "unacknowledged"


def forged(alarm: Alarm) -> dict[str, str]:
    notice = alarm.notices.get().pk
    return {
        "cut off": address(alarm)[:-4],
        "altered": address(alarm).replace("answer/", "answer/A"),
        "for another purpose": f"/alarms/answer/{signing.dumps(notice, salt='other')}",
        "of no notice": f"/alarms/answer/{signing.dumps(notice + 99, salt='alarms.answer')}",
        "empty words": "/alarms/answer/x",
    }


@pytest.mark.parametrize("kind", ["cut off", "altered", "for another purpose", "of no notice", "empty words"])
def test_a_link_that_was_not_made_by_us_for_this_is_refused(alarm, kind):
    answer = visit(forged(alarm)[kind], "post")

    alarm.refresh_from_db()
    assert (answer.status_code, alarm.state) == (404, "unacknowledged")
    assert "This link is not valid" in answer.content.decode()


def test_a_link_ends_with_the_access_of_the_persons_organisation(site, contractor):
    call_list(site, (0, [contact("Tess", contractor.pk)]))
    alarm = raised(site)
    escalate_due(now=NOW, limit=10)
    path = address(alarm)
    seen = visit(path).status_code
    site.grants.filter(organisation=contractor).update(ends_at=NOW)

    assert (seen, visit(path).status_code, visit(path, "post").status_code) == (200, 404, 404)
    assert Alarm.objects.get().state == "unacknowledged"


def test_who_may_only_look_sees_the_page_without_a_button(site):
    agency = world.organisation("Agency", "agency")
    world.grant(agency, site, AccessRole.AGENCY)
    call_list(site, (0, [contact("Ines", agency.pk)]))
    alarm = raised(site)
    escalate_due(now=NOW, limit=10)
    page, pressed = visit(address(alarm)), visit(address(alarm), "post")

    assert (page.status_code, pressed.status_code) == (200, 403)
    assert "<button" not in page.content.decode()
    assert Alarm.objects.get().state == "unacknowledged"


def test_the_address_is_kept_from_caches_indexes_and_other_sites(alarm):
    page = visit(address(alarm))

    assert page["Referrer-Policy"] == "no-referrer"
    assert "noindex" in page["X-Robots-Tag"]
    assert "no-store" in page["Cache-Control"]
    assert "default-src 'none'" in page["Content-Security-Policy"]


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    digits = colour.lstrip("#")
    digits = "".join(2 * one for one in digits) if len(digits) == 3 else digits
    parts = [int(digits[n : n + 2], 16) / 255 for n in (0, 2, 4)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_text_and_button_have_enough_contrast(alarm):
    """WCAG 2.2, 1.4.3: at least 4.5 to 1."""
    page = visit(address(alarm)).content.decode()
    for rule in ("body", "button"):
        declared = re.search(rf"^{rule} {{(.*?)}}", page, re.M | re.S)[1]
        front, back = (
            re.search(rf"(?<![-\w]){name}: (#\w+)", declared)[1] for name in ("color", "background")
        )
        darker, lighter = sorted((luminance(front), luminance(back)))

        assert (lighter + 0.05) / (darker + 0.05) >= 4.5, rule


def test_the_page_can_be_used_with_keyboard_and_screen_reader(alarm):
    page = visit(address(alarm)).content.decode()

    assert '<html lang="en">' in page
    assert "<title>Liquid in a sump" in page
    assert '<label for="note">' in page
    assert 'id="note"' in page
    assert ":focus-visible" in page
    assert "tabindex" not in page
    assert 'name="viewport"' in page
    assert "▲" in page  # a mark beside the words, so that nothing depends on colour
