"""The mail itself. Headers: RFC 5322 sections 2.2 and 3.6.4, RFC 3834 section 5; parsed by Python's own library."""

from email import policy
from email.parser import BytesParser
from html import unescape
from html.parser import HTMLParser

import pytest
from django.core import mail
from django.test import override_settings

from alarms.conditions import conditions
from alarms.models import Alarm
from alarms.services.answering import acknowledge
from alarms.services.escalation import escalate_due
from alarms.services.links import notice_of_link
from alarms.services.mail import compose, law_words
from tests.alarms.sites import call_list, contact, deliver, minutes, raised, report
from tests.alarms.test_sending import send
from tests.world import NOW


def parsed(message):
    return BytesParser(policy=policy.default).parsebytes(message.message().as_bytes())


def read(message) -> tuple[str, str]:
    """Text and HTML part as a reader sees them."""
    whole = parsed(message)
    return (
        whole.get_body(("plain",)).get_content(),
        whole.get_body(("html",)).get_content(),
    )


@pytest.fixture
def first(site):
    """The first mail about liquid in SU1."""
    deliver(site, report(occurred_at=NOW - minutes(2)))
    escalate_due(now=NOW, limit=10)
    send()
    return mail.outbox[0]


@pytest.mark.parametrize("part", [0, 1], ids=["text", "html"])
def test_the_mail_says_what_where_since_when_and_what_to_do(first, part):
    body = unescape(read(first)[part])
    condition = conditions()["sump-liquid"]

    for words in (condition.title, "containment sump SU1", "Marina OWN", *condition.first_steps):
        assert words in body
    assert condition.meaning in body
    for caution in condition.cautions:
        assert caution.text in body
    # 14:58 UTC on 4 March is winter time in New York: tz database, zone America/New_York.
    assert "Wed 04 Mar 2026 09:58 EST" in body


@pytest.mark.parametrize("part", [0, 1], ids=["text", "html"])
def test_the_mail_says_which_step_it_is_and_who_is_called_next(first, part):
    body = read(first)[part]

    assert "Step 1 of 2 of the call list." in body
    assert "If nobody acknowledges, Bob will be told at Wed 04 Mar 2026 10:10 EST." in body


def test_a_repeat_of_the_last_step_says_so(site):
    raised(site)
    for after in (0, 10, 40):
        escalate_due(now=NOW + minutes(after), limit=10)
    send(at=NOW + minutes(40))

    assert "The last step of the call list, called again (call 3)." in read(mail.outbox[-1])[0]


def test_the_mail_says_that_the_condition_cleared(site):
    raised(site)
    deliver(site, report(signal="cleared", occurred_at=NOW + minutes(1)), now=NOW + minutes(1))
    escalate_due(now=NOW + minutes(1), limit=10)
    send(at=NOW + minutes(1))

    assert "Cleared: Wed 04 Mar 2026 10:01 EST" in read(mail.outbox[0])[0]


def test_mails_about_one_alarm_form_a_thread_and_a_repeat_is_the_same_mail(site):
    alarm = raised(site)
    for after in (0, 10):
        escalate_due(now=NOW + minutes(after), limit=10)
    send(at=NOW + minutes(10))

    first, second = (parsed(one) for one in mail.outbox)
    again = parsed(compose(alarm.notices.get(step=2), alarm, now=NOW + minutes(11)))
    assert first["References"] is None
    assert second["References"] == second["In-Reply-To"] == first["Message-ID"]
    assert again["Message-ID"] == second["Message-ID"] != first["Message-ID"]
    assert first["Subject"] == second["Subject"] == "Liquid in a sump: SU1, Marina OWN"


@override_settings(MAIL_FROM="Fuel desk <alarms@fuel.example.com>")
def test_the_message_id_is_unique_to_us_and_well_formed(site):
    raised(site)
    escalate_due(now=NOW, limit=10)
    send()

    assert parsed(mail.outbox[0])["Message-ID"].endswith("@fuel.example.com>")
    assert not parsed(mail.outbox[0])["Message-ID"].defects


def test_automatic_replies_are_kept_away(first):
    """RFC 3834 section 5: an automatic mail says so."""
    assert parsed(first)["Auto-Submitted"] == "auto-generated"


@pytest.mark.parametrize(
    "name", ["Ann\r\nBcc: thief@example.com", "Ann, Bob <x@example.com>", "Åsa Ölund", '"Q"']
)
def test_a_name_cannot_add_a_header_or_a_recipient(site, name):
    call_list(site, (0, [contact("Ann")]))
    alarm = raised(site)
    escalate_due(now=NOW, limit=10)
    notice = alarm.notices.get()
    notice.name = name

    whole = parsed(compose(notice, alarm, now=NOW))
    assert [one.addr_spec for one in whole["To"].addresses] == ["ann@example.com"]
    assert whole["To"].addresses[0].display_name == " ".join(name.split())
    assert whole["Bcc"] is None


class Tags(HTMLParser):
    """What could load or run something, and every text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.addresses: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.found.append(tag)
        self.addresses += [value or "" for name, value in attrs if name in ("src", "href", "action")]


def test_what_people_typed_is_text_and_never_markup(site):
    type(site).objects.filter(pk=site.pk).update(name='<script src="x"></script>&')
    deliver(site, report('<img src="y">', "<b>odd</b>"))
    escalate_due(now=NOW, limit=10)
    send()

    text, page = read(mail.outbox[0])
    assert not {"script", "img", "b"} & set(Tags(page).found)
    assert '<script src="x"></script>&' in text


def test_the_only_address_in_the_mail_is_the_link_to_answer(first):
    """Nothing is loaded from anywhere: it works offline and tells nobody that it was read."""
    (link,) = Tags(read(first)[1]).addresses

    assert link in read(first)[0]
    assert notice_of_link(link.rpartition("/")[2])


def test_a_late_mail_about_an_answered_alarm_calls_nobody_else(site):
    alarm = raised(site)
    escalate_due(now=NOW, limit=10)
    answered = acknowledge(alarm=alarm, by="Bob", note=None, now=NOW).alarm

    text = read(compose(alarm.notices.get(), answered, now=NOW))[0]
    assert "Nobody else is called: it was acknowledged." in text


def test_lines_stay_within_what_mail_can_carry(first):
    """RFC 5322 section 2.1.1: at most 998 characters a line."""
    assert max(len(line) for line in first.message().as_bytes().split(b"\n")) <= 998


@pytest.mark.parametrize("part", [0, 1], ids=["text", "html"])
def test_the_first_mail_names_the_usual_clock_of_the_law_before_anybody_judged_it(site, part):
    """40 CFR 280.50(c): a monitoring result is reported within 24 hours."""
    raised(site, "SN1", "sump-fuel")
    escalate_due(now=NOW, limit=10)
    send()

    body = " ".join(unescape(read(mail.outbox[0])[part]).split())
    assert "normally reported to the implementing agency within 24 hours" in body
    assert "40 CFR 280.50(c)" in body


def test_once_it_is_judged_the_usual_clock_makes_room(site):
    alarm = raised(site, "SN1", "sump-fuel")
    judged = Alarm(condition_class=alarm.condition_class, clock_until=NOW)

    assert law_words(alarm) is not None
    assert law_words(judged) is None
    assert law_words(raised(site, "SN1", "sensor-fault")) is None
