"""The daily mail about what is overdue: one a person and local day, at their morning, quiet if nothing changed.

Local times and clock changes: the tz database (America/New_York: 2026-03-08 forward at 02:00, 2026-11-01 back at 02:00;
America/Los_Angeles three hours behind). The promises are our own.
"""

import smtplib
from datetime import UTC, date, datetime, time, timedelta
from unittest.mock import patch

import pytest
from django.core import mail

from alarms.models import Contact, Substitution
from alarms.services.first_people import first_people
from compliance.models import Obligation, OverdueDigest, Standing, StandingWord
from compliance.services import assess, overdue_digest, overdue_list
from compliance.services.overdue_digest import BACK_OFF, LEASE, tell_overdue
from tests import world
from tests.alarms.sites import call_list, contact, fallback
from tests.alarms.test_mail import Tags, parsed, read
from tests.alarms.test_sending import GREYLISTED, UNKNOWN_USER, refusing

# 07:00 in New York in winter.
MORNING = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
DAY = timedelta(days=1)
MINUTE = timedelta(minutes=1)


def owed(at, rule: str = "spill-bucket-tightness-3y", subject: str = "SB1", **fields) -> Obligation:
    stated = {
        "title": "Spill bucket tested for tightness every 3 years",
        "standing": StandingWord.OVERDUE,
        "due_on": date(2026, 2, 12),
        "subject_kind": "spill_bucket",
        "pack": "us-federal",
        "cite": "40 CFR 280.35(a)(1)(ii)",
        "verified": "VS",
        "finding": {},
        "changed_at": MORNING,
    } | fields
    return Obligation.objects.create(facility=at, rule=rule, subject=subject, **stated)


def tell(at: datetime) -> list:
    """What went out at this moment."""
    before = len(mail.outbox)
    ticks = iter(at + timedelta(milliseconds=n) for n in range(10_000))
    tell_overdue(clock=lambda: next(ticks), at_most=MINUTE)
    return mail.outbox[before:]


def names(messages) -> list[str]:
    return sorted(one.to[0].split()[0] for one in messages)


@pytest.fixture
def site(own):
    call_list(own, (0, [contact("Ann")]), (10, [contact("Bob")]))
    return own


def test_it_comes_in_the_morning_once_to_whoever_stands_first_on_the_list(site):
    owed(site)
    told = [names(tell(MORNING + after)) for after in (-MINUTE, timedelta(0), MINUTE, 60 * MINUTE)]

    assert told == [[], ["Ann"], [], []]


def test_it_says_which_duty_where_since_when_and_by_which_law(site):
    owed(site)
    owed(site, subject="SB2")
    owed(
        site, "walkthrough-30-day", "F", title="Walkthrough every 30 days", standing="no record", due_on=None
    )
    owed(site, "report", "F", title="Reported", standing="failed", due_on=None, due_at=MORNING - DAY)
    owed(site, "other", "F", standing="met")
    [message] = tell(MORNING)

    assert message.subject == "4 duties overdue, failed or without a record: Marina OWN"
    for body in read(message):
        flat = " ".join(body.split())
        assert "Spill bucket tested for tightness every 3 years" in flat
        assert "SB1, SB2; was due Thu 12 Feb 2026" in flat
        assert "was due Tue 03 Mar 2026 07:00 EST" in flat
        assert "40 CFR 280.35(a)(1)(ii)" in flat
        places = [flat.upper().index(f"{word}:") for word in ("FAILED", "OVERDUE", "NO RECORD")]
        assert places == sorted(places)


def test_a_day_on_which_nothing_changed_is_quiet(site):
    row = owed(site)
    told = [len(tell(MORNING + days * DAY)) for days in (0, 1, 2)]
    row.standing = StandingWord.FAILED
    row.save()
    told += [len(tell(MORNING + days * DAY)) for days in (3, 4)]

    assert told == [1, 0, 0, 1, 0]


@pytest.mark.parametrize("change", ["another", "one less", "another due day", "could not be judged"])
def test_whatever_changes_the_list_is_told(site, change):
    row, other = owed(site), owed(site, subject="SB2")
    tell(MORNING)
    match change:
        case "another":
            owed(site, subject="SB3")
        case "one less":
            other.delete()
        case "another due day":
            Obligation.objects.filter(pk=row.pk).update(due_on=date(2026, 2, 13))
        case _:
            Standing.objects.create(facility=site, last_error="a pack is missing", judged_at=MORNING)

    assert len(tell(MORNING + DAY)) == 1


def test_when_all_is_put_right_that_is_said_once(site):
    row = owed(site)
    tell(MORNING)
    row.delete()
    told = [tell(MORNING + days * DAY) for days in (1, 2)]

    assert [one.subject for one in told[0]] == ["Nothing is overdue any more"]
    assert told[1] == []


def test_with_nothing_open_nobody_ever_hears_anything(site):
    owed(site, standing="due soon")

    assert tell(MORNING) == []
    assert not OverdueDigest.objects.exists()


def test_a_site_that_could_not_be_judged_is_never_silent(site):
    Standing.objects.create(facility=site, last_error="a pack is missing")
    [message] = tell(MORNING)

    assert message.subject == "The state could not be worked out: Marina OWN"
    assert all("could not be judged" in body for body in read(message))


def test_it_lists_what_judging_found(site):
    world.line(site)
    assess.drain(clock=lambda: MORNING - 60 * MINUTE)
    [message] = tell(MORNING)

    rows = Obligation.objects.filter(standing__in=overdue_list.TOLD)
    text = " ".join(read(message)[0].split())
    assert rows.count() > 3
    assert all(f"{row.title}." in text and row.cite in text for row in rows)
    assert all(" ".join(row.finding["task"].split()) in text for row in rows)


def test_it_names_whose_duty_it_is_only_where_that_is_not_the_usual_party(site):
    owed(site, party="owner or operator")
    owed(site, "certification", "SB2", party="installer")
    [message] = tell(MORNING)

    text = " ".join(read(message)[0].split())
    assert "SB2 (installer)" in text
    assert "owner or operator" not in text


def test_a_person_gets_one_mail_over_all_their_sites_the_worst_first(site, owner):
    second = world.facility(owner, "TWO")
    call_list(second, (0, [contact("Ann")]))
    owed(site)
    owed(second, standing="failed")
    [message] = tell(MORNING)

    text = read(message)[0]
    assert "2 sites" in message.subject
    assert text.index("MARINA TWO") < text.index("MARINA OWN")


def test_one_address_in_two_organisations_gets_of_each_only_what_it_may_see(site, foreign, owner, stranger):
    call_list(foreign, (0, [contact("Ann")]))
    owed(site)
    owed(foreign)
    messages = tell(MORNING)

    bodies = sorted(read(one)[0] for one in messages)
    assert [("MARINA OWN" in one, "MARINA FOREIGN" in one) for one in bodies] == [
        (False, True),
        (True, False),
    ]


def test_whose_organisation_was_shut_out_hears_nothing_of_the_site(site, contractor):
    call_list(site, (0, [contact("Tess", contractor.pk)]))
    owed(site)
    site.grants.filter(organisation=contractor).update(ends_at=MORNING)

    assert tell(MORNING) == []


def test_without_a_call_list_the_operators_fallback_people_are_told(own, owner):
    fallback(owner, "mia")
    owed(own)

    assert names(tell(MORNING)) == ["mia"]


def test_a_stand_in_is_told_instead_of_whoever_is_away(site, owner):
    ann = Contact.objects.get(name="Ann")
    cem = Contact.objects.create(organisation=owner, name="Cem", email="cem@example.com")
    Substitution.objects.create(
        organisation=owner,
        away=ann,
        stand_in=cem,
        starts_at=MORNING,
        ends_at=MORNING + DAY,
        reason="leave",
        recorded_at=MORNING,
        recorded_by="test",
    )
    owed(site)

    assert [names(tell(MORNING + days * DAY)) for days in (0, 1)] == [["Cem"], ["Ann"]]


def test_morning_is_by_the_persons_own_clock_where_it_was_stated(site):
    Contact.objects.filter(name="Ann").update(time_zone="America/Los_Angeles", morning=time(6, 30))
    owed(site)
    # 06:30 Pacific standard time is 14:30 UTC.
    moments = [MORNING, MORNING + 149 * MINUTE, MORNING + 150 * MINUTE]

    assert [len(tell(at)) for at in moments] == [0, 0, 1]


@pytest.mark.parametrize(
    ("day", "morning", "comes"),
    [
        (date(2026, 3, 7), time(7), datetime(2026, 3, 7, 12, 0, tzinfo=UTC)),
        (date(2026, 3, 8), time(7), datetime(2026, 3, 8, 11, 0, tzinfo=UTC)),
        (
            date(2026, 3, 8),
            time(2, 30),
            datetime(2026, 3, 8, 7, 30, tzinfo=UTC),
        ),  # 02:30 does not exist: 03:30
        (date(2026, 11, 1), time(1, 30), datetime(2026, 11, 1, 5, 30, tzinfo=UTC)),  # the first of two
        (date(2026, 11, 1), time(7), datetime(2026, 11, 1, 12, 0, tzinfo=UTC)),
        (date(2028, 2, 29), time(7), datetime(2028, 2, 29, 12, 0, tzinfo=UTC)),
    ],
    ids=str,
)
def test_a_morning_over_clock_changes_and_leap_days_comes_once(site, day, morning, comes):
    Contact.objects.filter(name="Ann").update(morning=morning)
    owed(site)
    row = OverdueDigest.objects.filter(local_day=day)

    assert tell(comes - MINUTE) == []
    assert [len(tell(comes + after * MINUTE)) for after in (0, 1, 60, 61, 120)] == [1, 0, 0, 0, 0]
    assert row.count() == 1


def test_whoever_is_listed_at_noon_or_whose_service_stood_still_waits_for_the_next_morning(site):
    owed(site)

    assert tell(MORNING + overdue_digest.MORNING_LASTS) == []
    assert len(tell(MORNING + DAY)) == 1


def test_the_mails_of_a_person_form_a_thread_and_name_themselves(site):
    owed(site)
    [first] = tell(MORNING)
    owed(site, subject="SB2")
    [second] = tell(MORNING + DAY)

    first, second = parsed(first), parsed(second)
    assert first["References"] is None
    assert second["References"] == second["In-Reply-To"] == first["Message-ID"] != second["Message-ID"]
    assert second["Auto-Submitted"] == "auto-generated"  # RFC 3834 section 5


def test_a_crash_between_sending_and_marking_repeats_the_same_mail(site):
    owed(site)
    with patch.object(overdue_digest, "_settle", side_effect=RuntimeError("killed")):
        [first] = tell(MORNING)
    meanwhile = tell(MORNING + MINUTE)
    [again] = tell(MORNING + LEASE + MINUTE)

    assert meanwhile == []
    assert parsed(again)["Message-ID"] == parsed(first)["Message-ID"]
    assert tell(MORNING + 2 * LEASE) == []


def test_a_server_that_cannot_take_it_now_is_asked_again(site):
    owed(site)
    with refusing(smtplib.SMTPRecipientsRefused(GREYLISTED)):
        tell(MORNING)

    assert [len(tell(MORNING + after)) for after in (MINUTE, BACK_OFF + MINUTE)] == [0, 1]


def test_an_address_refused_for_good_is_noted_and_tried_again_the_next_day(site):
    owed(site)
    with refusing(smtplib.SMTPRecipientsRefused(UNKNOWN_USER)):
        tell(MORNING)
    row = OverdueDigest.objects.get()

    assert (row.failed_at is not None, row.answer[:9]) == (True, "550 5.1.1")
    assert tell(MORNING + 60 * MINUTE) == []
    assert names(tell(MORNING + DAY)) == ["Ann"]


def test_what_was_put_right_before_a_late_mail_could_go_is_not_told(site):
    row = owed(site)
    with refusing(smtplib.SMTPRecipientsRefused(GREYLISTED)):
        tell(MORNING)
    row.delete()

    assert tell(MORNING + BACK_OFF + MINUTE) == []
    assert OverdueDigest.objects.get().withdrawn_at is not None


def test_a_very_long_list_still_names_every_site_and_how_much_is_open_there(site, owner):
    second = world.facility(owner, "TWO")
    call_list(second, (0, [contact("Ann")]))
    for at in (site, second):
        for number in range(3):
            owed(at, f"rule-{number}", title=f"Duty {number} at {at.code}")
    with patch.object(overdue_list, "MAX_LINES", 4):
        [message] = tell(MORNING)

    text = read(message)[0]
    assert message.subject.startswith("6 duties")
    assert "MARINA OWN: 3" in text
    assert "MARINA TWO: 3" in text
    assert ("Duty 0 at OWN" in text, "Duty 0 at TWO" in text) == (True, False)


def test_what_people_typed_is_text_and_never_markup_or_a_header(owner):
    site = world.facility(owner, "EVIL", name='<img src="x">\r\nBcc: thief@example.com')
    call_list(site, (0, [contact("Ann")]))
    owed(site)
    [message] = tell(MORNING)

    assert parsed(message)["Bcc"] is None
    assert "img" not in Tags(read(message)[1]).found


def test_who_is_first_is_read_in_as_many_queries_for_one_site_as_for_many(
    site, owner, django_assert_max_num_queries
):
    for number in range(5):
        call_list(world.facility(owner, f"S{number}"), (0, [contact(f"P{number}")]))

    with django_assert_max_num_queries(10):
        people = first_people(now=MORNING)
    assert {one.name for one in people.values()} == {"Ann", *(f"P{number}" for number in range(5))}
