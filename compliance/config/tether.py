"""Runs a module in this process and ends when the parent does, however the parent ended.

    python -m compliance.config.tether celery -A compliance.config.celery beat

The parent keeps the other end of our standard input open. When it dies, by SIGKILL too, the system closes that end, and
we stop: a timetable that outlives its parent would go on publishing for ever. Works wherever pipes do.
"""

import os
import runpy
import signal
import sys
import threading
import time
from pathlib import Path

GRACE_S = 10.0


def stop_with_parent() -> None:
    """Watch standard input from a thread of its own; at its end ask this process to stop, then make it."""
    threading.Thread(target=_watch, name="tether", daemon=True).start()


def _watch() -> None:
    while os.read(sys.stdin.fileno(), 1024):
        pass
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(GRACE_S)
    os.kill(os.getpid(), signal.SIGKILL)


if __name__ == "__main__":
    stop_with_parent()
    del sys.argv[0]
    sys.path.insert(0, str(Path.cwd()))
    runpy.run_module(sys.argv[0], run_name="__main__", alter_sys=True)
