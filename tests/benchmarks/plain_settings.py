"""The service's settings with the routes of the plain view only."""

from compliance.config.settings import *  # noqa: F403

ROOT_URLCONF = "tests.benchmarks.plain"
