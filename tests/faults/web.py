"""The web server as a process, and a client that asks nothing of Django."""

import http.client
import signal
import socket
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from tests.faults.processes import end, free_port, start_module


@contextmanager
def serving(variables: Mapping[str, str], *, application: str = "compliance.config.wsgi") -> Iterator[int]:
    """One synchronous process of gunicorn, as patient as in docker-compose.yml; its port."""
    port = free_port()
    options = ["--bind", f"127.0.0.1:{port}", "--workers", "1", "--worker-class", "sync", "--timeout", "120"]
    options += ["--no-control-socket", "--log-level", "warning"]
    server = start_module("gunicorn", application, *options, variables=variables)
    try:
        _wait_for(port)
        yield port
    finally:
        end(server, how=signal.SIGTERM)


def post(
    port: int, path: str, secret: str, body: bytes, *, media_type: str = "application/json"
) -> tuple[int, bytes]:
    """Status and answer."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=300)
    try:
        headers = {"Authorization": f"Bearer {secret}", "Content-Type": media_type}
        line.request("POST", path, body, headers)
        answer = line.getresponse()
        return answer.status, answer.read()
    finally:
        line.close()


def _wait_for(port: int) -> None:
    for _ in range(600):
        try:
            with socket.create_connection(("127.0.0.1", port), timeout=5):
                return
        except OSError:
            time.sleep(0.1)
    raise RuntimeError("the web server did not start")
