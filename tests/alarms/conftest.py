"""What the tests of this app share."""

import pytest

from equipment.models import Facility
from tests import world
from tests.alarms import sites


@pytest.fixture
def site(own) -> Facility:
    """The owner's facility with a tank and its sump SU1; Ann is called at once, Bob 10 minutes later."""
    world.line(own)
    sites.call_list(own, (0, [sites.contact("Ann")]), (10, [sites.contact("Bob")]))
    return own
