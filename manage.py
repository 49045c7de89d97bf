#!/usr/bin/env python
"""Every command of the project: `uv run manage.py help` lists them, `uv run manage.py demo` shows the main job."""

import os
import sys
from pathlib import Path

from django.core.management import execute_from_command_line


def prepare(arguments: list[str]) -> None:
    """Defaults of the two commands that serve on this machine: no TLS, and the demo keeps to a folder of its own."""
    if arguments[:1] == ["demo"]:
        os.environ.setdefault("DATA_DIR", str(Path(__file__).resolve().parent / ".data" / "demo"))
    if arguments[:1] in (["demo"], ["serve"]) and "DATABASE_URL" not in os.environ:
        bind = arguments[arguments.index("--bind") + 1] if "--bind" in arguments[:-1] else "127.0.0.1:8000"
        os.environ.setdefault("PUBLIC_URL", f"http://{bind}")


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "compliance.config.settings")
    prepare(sys.argv[1:])
    execute_from_command_line(sys.argv)
