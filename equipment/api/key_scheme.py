"""Describes the API key in the OpenAPI file. Loaded by the app config: DRF's own start-up must not import it."""

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema


class KeyScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """Describes the key in the OpenAPI file."""

    target_class = "equipment.api.authentication.KeyAuthentication"
    name = "key"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, str]:
        """An HTTP bearer scheme."""
        return {"type": "http", "scheme": "bearer", "description": "An organisation's API key."}
