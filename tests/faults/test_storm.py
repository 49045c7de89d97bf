"""The run of `storm` in small: a web process, real workers and a mail server, by a clock that runs faster.

One mail a person a minute and nothing missing from it is our own promise; SMTP: RFC 5321.
"""

import pytest

from tests.faults.storm import Intake, Order, run, slowed


@pytest.mark.django_db(transaction=True)
def test_a_storm_is_one_mail_a_person_a_minute_and_nothing_is_missing(capsys):
    order = Order(alarms=200, sites=20, batch=5, workers=2, pace=20, warm_up=1, patience=60, pace_kept=0)
    account = run(order)

    assert account.wrong == []
    assert account.mails_taken < account.notices_foreseen == 220
    assert "intake alone" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("beside", "pace_kept", "wrong"),
    [
        (0.1, 0.5, []),
        (0.19, 0.5, []),
        (0.21, 0.5, ["the intake kept 48% of its pace, and has to keep 50%"]),
        (0.21, 0, []),
        (11, 0, ["a request took 11.0 s"]),
    ],
)
def test_a_storm_tells_an_intake_that_its_workers_hold_up(beside, pace_kept, wrong):
    """Half of the pace, and ten seconds a request: common practice, no source."""
    assert slowed(Intake([0.1] * 10), Intake([beside] * 90), Order(pace_kept=pace_kept)) == wrong
