"""The run of `workers_killed` in small: real workers on the test database, killed while alarms climb.

What had to happen is foretold from the call lists alone, by the pure escalation. SMTP: RFC 5321.
"""

import pytest

from tests.faults.workers_killed import Order, run


@pytest.mark.django_db(transaction=True)
def test_killed_workers_tell_everybody_and_nobody_else(capsys):
    order = Order(alarms=30, seconds=10, pace=240, workers=2, kill_every=3, warm_up=6)
    account = run(order)

    assert account.wrong == []
    assert account.notices_foreseen > account.alarms == order.alarms
    assert "workers killed" in capsys.readouterr().out
