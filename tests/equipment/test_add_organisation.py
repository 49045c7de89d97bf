"""The first step on an empty database."""

import re
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from equipment.models import Organisation
from equipment.services import keys


def test_an_organisation_is_on_file_and_its_key_works(db):
    out = StringIO()

    call_command("add_organisation", "Own Marinas", stdout=out)

    secret = re.search(r"once: (\S+)", out.getvalue())[1]
    actor = keys.actor_of(secret, now=timezone.now())
    assert actor.organisations == (Organisation.objects.get(name="Own Marinas").pk,)


def test_a_name_is_taken_once(owner):
    with pytest.raises(CommandError, match="on file already"):
        call_command("add_organisation", owner.name)


@pytest.mark.parametrize("days", [0, 401])
def test_a_key_that_lives_too_short_or_too_long_leaves_nothing_behind(db, days):
    with pytest.raises(CommandError, match="expires_at"):
        call_command("add_organisation", "Own Marinas", key_days=days)

    assert not Organisation.objects.exists()
