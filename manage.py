#!/usr/bin/env python
"""Every command of the project: `uv run manage.py` lists them, `uv run manage.py demo` shows the main job."""

import os
import sys

from django.core.management import execute_from_command_line

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "compliance.config.settings")
    execute_from_command_line(sys.argv)
