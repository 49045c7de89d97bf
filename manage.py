#!/usr/bin/env python
"""Every command of the project: `uv run manage.py help` lists them, `uv run manage.py demo` shows the main job."""

import os
import sys
from pathlib import Path

from django.core.management import execute_from_command_line

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "compliance.config.settings")
    if sys.argv[1:2] == ["demo"]:
        # The demo keeps to a folder of its own and is served without TLS on this machine only.
        os.environ.setdefault("DATA_DIR", str(Path(__file__).resolve().parent / ".data" / "demo"))
        os.environ.setdefault("PUBLIC_URL", "http://127.0.0.1:8000")
    execute_from_command_line(sys.argv)
