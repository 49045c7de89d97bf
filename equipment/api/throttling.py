"""A courtesy limit a key; the count is read and then written, so it is no security measure."""

from typing import TYPE_CHECKING

from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle

from equipment.tenancy import Actor

if TYPE_CHECKING:  # rest_framework.views loads this module while it is itself being loaded
    from rest_framework.views import APIView


class KeyThrottle(SimpleRateThrottle):
    """Counts by the actor's name, so that one noisy program does not slow its neighbours."""

    scope = "key"

    def get_cache_key(self, request: Request, view: "APIView") -> str | None:
        """None, hence no limit, for whoever has no key: they get no further than the refusal."""
        actor = request.auth
        if not isinstance(actor, Actor):
            return None
        return self.cache_format % {"scope": self.scope, "ident": actor.name.replace(" ", "_")}
