"""A mail server on loopback that notes every mail it took: RFC 5321, a 250 to the data says that it has the mail."""

import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes
from typing import Any, NamedTuple

from aiosmtpd.controller import Controller

# How both kinds of mail name the place of an alarm whose device is in no register.
_DEVICE = re.compile(r"^device (\S+) \(not in the register\)", re.MULTILINE)


class Taken(NamedTuple):
    """A mail that the server answered 250 for; `at` by time.time()."""

    at: float
    to: str
    message_id: str
    devices: frozenset[str]


class Catcher:
    """Takes everything, except that every `busy_every`-th mail is put off with 451 (0: none)."""

    def __init__(self, *, busy_every: int = 0) -> None:
        self.busy_every = busy_every
        self.taken: list[Taken] = []
        self.put_off = 0
        self._heard = 0

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        """One mail to one person."""
        self._heard += 1
        if self.busy_every and self._heard % self.busy_every == 0:
            self.put_off += 1
            return "451 4.3.2 busy, come again"
        [to] = envelope.rcpt_tos
        message = message_from_bytes(envelope.content)
        text = next(part for part in message.walk() if part.get_content_type() == "text/plain")
        words = bytes(text.get_payload(decode=True)).decode()
        devices = frozenset(_DEVICE.findall(words))
        self.taken.append(Taken(time.time(), to, message["Message-ID"], devices))
        return "250 taken"


@contextmanager
def catching(port: int, *, busy_every: int = 0) -> Iterator[Catcher]:
    """The server, listening while the block runs."""
    catcher = Catcher(busy_every=busy_every)
    controller = Controller(catcher, hostname="127.0.0.1", port=port, data_size_limit=50_000_000)
    controller.start()
    try:
        yield catcher
    finally:
        controller.stop()
