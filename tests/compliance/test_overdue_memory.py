"""What is read to know what somebody was told last: one mail, however many they have had."""

from datetime import UTC, datetime, timedelta

from django.db import connection
from django.test.utils import CaptureQueriesContext

from compliance.models import OverdueDigest, OverdueReader
from tests.alarms.sites import call_list, contact
from tests.compliance.test_overdue_digest import DAY, MORNING, owed, tell

SENT = MORNING - 300 * DAY


def rows_read(queries: list[dict], column: str) -> int:
    """Of the statements that read this column, as they were sent: how many rows they answer."""
    found = 0
    with connection.cursor() as cursor:
        for one in queries:
            if one["sql"].startswith("SELECT") and f'"{column}"' in one["sql"].split(" FROM ")[0]:
                cursor.execute(one["sql"])
                found += len(cursor.fetchall())
    return found


def had_mails(organisation, address: str, number: int) -> None:
    """The first of them listed something, the others nothing."""
    OverdueReader.objects.get_or_create(organisation=organisation, address=address)
    OverdueDigest.objects.bulk_create(
        OverdueDigest(
            organisation=organisation,
            address=address,
            local_day=(SENT + day * DAY).date(),
            fingerprint=f"{day % 2}" * 64,
            count=day % 2,
            message_id=f"<{address}.{day}@example.com>",
            created_at=SENT + day * DAY,
            try_at=SENT + day * DAY,
            sent_at=SENT + day * DAY,
        )
        for day in range(number)
    )


def test_of_200_mails_the_newest_is_read(own):
    call_list(own, (0, [contact("Ann")]))
    owed(own)
    had_mails(own.operator, "ann@example.com", 200)
    had_mails(own.operator, "somebody@example.com", 200)
    with CaptureQueriesContext(connection) as asked:
        [message] = tell(MORNING)

    assert rows_read(asked.captured_queries, "fingerprint") <= 3
    assert message.to == ["Ann <ann@example.com>"]


def test_the_last_mail_that_went_out_decides_whether_the_day_is_quiet(own):
    call_list(own, (0, [contact("Ann")]))
    owed(own)
    first = len(tell(MORNING))
    OverdueDigest.objects.create(
        organisation=own.operator,
        address="ann@example.com",
        local_day=(MORNING + DAY).date(),
        fingerprint="0" * 64,
        count=0,
        message_id="<never-sent@example.com>",
        created_at=MORNING + DAY,
        try_at=datetime(2100, 1, 1, tzinfo=UTC),
        failed_at=MORNING + DAY,
    )

    assert (first, len(tell(MORNING + 2 * DAY + timedelta(minutes=1)))) == (1, 0)
