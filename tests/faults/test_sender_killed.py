"""A sender is killed (SIGKILL) between a notice's row and its mail: the mail goes out all the same.

Real processes on the test database (a SQLite file, or PostgreSQL where DATABASE_URL names it), mails caught on
loopback. SMTP: RFC 5321; a server that has answered 250 to the data has the mail (section 4.2.5).
"""

import signal
import subprocess
import sys
from collections.abc import Iterator
from email import message_from_bytes
from pathlib import Path

import pytest
from aiosmtpd.controller import Controller
from django.conf import settings
from django.utils import timezone

from alarms.models import Notice
from alarms.services.escalation import escalate_due
from alarms.services.mailboxes import LEASE
from tests import world
from tests.alarms.sites import call_list, contact, raised
from tests.faults.processes import environment, free_port

PEOPLE = ["Ann", "Bob", "Cem", "Dee", "Eli"]
ADDRESSES = sorted(f"{name.lower()}@example.com" for name in PEOPLE)


class Server:
    """A mail server that kills the sender at a point of its second mail."""

    def __init__(self, kill_at: str) -> None:
        self.kill_at = kill_at
        self.sender: subprocess.Popen[bytes] | None = None
        self.taken: list[tuple[str, str]] = []
        self.quits = 0

    async def handle_DATA(self, server, session, envelope):
        if self.kill_at == "before the mail is taken" and len(self.taken) == 1 and self.kill():
            return "451 never heard"
        self.taken.append((envelope.rcpt_tos[0], message_from_bytes(envelope.content)["Message-ID"]))
        return "250 taken"

    async def handle_QUIT(self, server, session, envelope):
        self.quits += 1
        if self.kill_at == "after the mail was taken" and self.quits == 2:
            self.kill()
        return "221 bye"

    def kill(self) -> bool:
        """Once; whether there was one to kill."""
        sender, self.sender = self.sender, None
        if sender is not None:
            sender.send_signal(signal.SIGKILL)
            sender.wait()
        return sender is not None


@pytest.fixture
def port() -> int:
    return free_port()


@pytest.fixture(params=["before the mail is taken", "after the mail was taken"])
def server(request, port) -> Iterator[Server]:
    handler = Server(request.param)
    controller = Controller(handler, hostname="127.0.0.1", port=port)
    controller.start()
    yield handler
    controller.stop()


def start(port: int, folder: Path, *, ahead: float = 0) -> subprocess.Popen[bytes]:
    """A sender in a process of its own, by the settings that a real one reads."""
    command = [sys.executable, "-m", "tests.faults.sender", str(ahead)]
    return subprocess.Popen(command, env=environment(smtp_port=port, folder=folder), cwd=settings.ROOT)


@pytest.mark.django_db(transaction=True)
def test_no_mail_is_lost_when_the_sender_is_killed(server, port, tmp_path):
    site = world.facility(world.organisation("Own Marinas"))
    call_list(site, (0, [contact(name) for name in PEOPLE]), now=timezone.now())
    raised(site, "SU1", now=timezone.now())
    escalate_due(now=timezone.now(), limit=10)

    server.sender = killed = start(port, tmp_path)
    killed.wait(timeout=60)
    left = Notice.objects.filter(sent_at=None)
    state_after_kill = (killed.returncode, left.count(), left.exclude(claimed_until=None).count())
    start(port, tmp_path).wait(timeout=60)
    waiting = left.count()
    start(port, tmp_path, ahead=LEASE.total_seconds()).wait(timeout=60)

    assert state_after_kill == (-signal.SIGKILL, 4, 1)
    assert waiting == 1
    assert not left.exists()
    # Killed before the server had it: each mail once. Killed after that: one mail twice, as the same mail.
    once_more = server.kill_at == "after the mail was taken"
    assert sorted({address for address, _ in server.taken}) == ADDRESSES
    assert len(server.taken) == len(PEOPLE) + once_more
    assert len({message_id for _, message_id in server.taken}) == len(PEOPLE)
