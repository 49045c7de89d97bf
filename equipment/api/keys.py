"""Keys that programs carry: ordered and revoked by a manager of the organisation, listed without their secrets."""

from typing import ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.exceptions import PermissionDenied
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.fields import InstantField
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import TextField, WholeField, WordField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.faults import Fault, refuse
from equipment.models import ApiKey, Organisation
from equipment.services.keys import issue_key, revoke_key
from equipment.tenancy import Actor, Right, refusal
from equipment.vocabulary import KeyRole


class KeyIn(StrictSerializer):
    """Which program gets a key, with which role, until when."""

    organisation = WholeField(required=False, help_text="id of yours; left out: yours all the same")
    name = TextField(max_length=100, help_text="which program carries it")
    role = WordField(
        choices=KeyRole.choices,
        help_text="gateway: reads and delivers events, for a box that stands on a dock",
    )
    expires_at = InstantField(help_text="400 days from now at most")


class KeyOut(StrictSerializer):
    """A key without its secret, of which only a hash is kept."""

    id = WholeField(read_only=True)
    organisation = WholeField(source="organisation_id", read_only=True)
    name = TextField(read_only=True)
    role = WordField(choices=KeyRole.choices, read_only=True)
    prefix = TextField(read_only=True, help_text="the first characters of the secret, to tell keys apart")
    created_at = InstantField(read_only=True)
    expires_at = InstantField(read_only=True)
    revoked_at = InstantField(read_only=True, allow_null=True)
    last_used_at = InstantField(read_only=True, allow_null=True, help_text="to within ten minutes")


class NewKeyOut(KeyOut):
    """A new key with its secret, which is shown here and never again."""

    secret = TextField(read_only=True)


BODY = {"name": "gateway at Point Three", "role": "gateway", "expires_at": "2027-03-01T00:00:00-05:00"}
ANSWER = {
    "id": 5,
    "organisation": 2,
    "prefix": "q2Zt7_xB",
    "created_at": "2026-03-04T15:00:00Z",
    "revoked_at": None,
    "last_used_at": None,
    **BODY,
}


class Keys(ScopedView, GenericAPIView[ApiKey]):
    """Keys of the organisation that the caller manages."""

    rights: ClassVar = {"GET": Right.SHARE, "POST": Right.SHARE}
    query_shape: ClassVar = PagedQuery
    serializer_class = KeyOut

    @extend_schema(
        operation_id="list_keys",
        tags=["keys"],
        summary="Keys of your organisation, newest first",
        parameters=[PagedQuery],
        responses={200: KeyOut(many=True), **problem_responses(403, 422)},
        examples=[OpenApiExample("as on file", value=ANSWER, response_only=True)],
    )
    def get(self, request: Request) -> Response:
        """One page of keys, expired and revoked ones too."""
        page = self.paginate_queryset(ApiKey.objects.filter(organisation=managed_by(self.actor)))
        return self.get_paginated_response(KeyOut(page, many=True).data)

    @extend_schema(
        operation_id="issue_key",
        tags=["keys"],
        summary="Order a key for a program",
        description="The secret is in this answer only, so no answer is kept for a repeat: "
        "a repeated request makes another key. Revoke what you do not need.",
        request=KeyIn,
        responses={201: NewKeyOut, **body_problems(403)},
        examples=[
            OpenApiExample("for a gateway", value=BODY, request_only=True),
            OpenApiExample("shown once", value={**ANSWER, "secret": "q2Zt7_xB.…"}, response_only=True),
        ],
    )
    def post(self, request: Request) -> Response:
        """The key and its secret."""
        managed = managed_by(self.actor)
        body = KeyIn(data=request.data)
        body.is_valid(raise_exception=True)
        stated = dict(body.validated_data)
        if stated.pop("organisation", managed) != managed:
            refuse([Fault("/organisation", "no such organisation of yours", "unknown")])
        organisation = Organisation.objects.get(pk=managed)
        key, secret = issue_key(organisation=organisation, now=self.now, **stated)
        return Response({**KeyOut(key).data, "secret": secret}, status=201)


class KeyDetail(ScopedView):
    """One key."""

    rights: ClassVar = {"DELETE": Right.SHARE}

    @extend_schema(
        operation_id="revoke_key",
        tags=["keys"],
        summary="Revoke a key now",
        description="It stays listed, so that history can name it. A repeat changes nothing.",
        responses={204: None, **problem_responses(403, 404)},
    )
    def delete(self, request: Request, key_id: int) -> Response:
        """No content."""
        key = ApiKey.objects.filter(pk=key_id, organisation=managed_by(self.actor)).first()
        if key is None:
            raise Http404
        revoke_key(key, now=self.now)
        return Response(status=204)


def managed_by(actor: Actor) -> int:
    """Id of the organisation for which the actor's key is a manager's; 403 when it is not."""
    if not actor.may(Right.SHARE):
        raise PermissionDenied(refusal(actor, Right.SHARE))
    return actor.organisation
