"""Lets the API be called in plain HTTP, from a folder that holds no collected static files."""

import pytest


@pytest.fixture(autouse=True)
def _plain_http(settings, tmp_path):
    settings.SECURE_SSL_REDIRECT = False
    settings.STATIC_ROOT = tmp_path
