"""The run of `storm` in small: a web process, real workers and a mail server, by a clock that runs faster.

One mail a person a minute and nothing missing from it is our own promise; SMTP: RFC 5321.
"""

import pytest

from tests.faults.storm import Order, run


@pytest.mark.django_db(transaction=True)
def test_a_storm_is_one_mail_a_person_a_minute_and_nothing_is_missing(capsys):
    order = Order(alarms=200, sites=20, batch=5, workers=2, pace=20, warm_up=1, patience=60)
    account = run(order)

    assert account.wrong == []
    assert account.mails_taken < account.notices_foreseen == 220
    assert "intake alone" in capsys.readouterr().out
