"""Photos and papers: sent as a form, listed, read as they were sent, taken back with a reason."""

from collections.abc import Iterator
from typing import ClassVar

from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.utils.cache import get_conditional_response
from django.utils.http import content_disposition_header, quote_etag
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, OpenApiResponse, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.parsers import MultiPartParser
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.attachment_shapes import ATTACHMENT, AttachmentOut
from equipment.api.change_shapes import WithdrawalIn
from equipment.api.forms import OneForm
from equipment.api.query_strings import PagedQuery
from equipment.api.rosters import UploadField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.api.withdrawals import take_back
from equipment.faults import Fault, refuse
from equipment.media_types import SUFFIXES, TEXT, download_name
from equipment.models import Attachment
from equipment.services.attachments import MAX_BYTES, content_of, keep_attachment
from equipment.tenancy import Right

# The form around the file: boundaries and headers of its one part.
MAX_REQUEST = MAX_BYTES + 64 * 1024
ON_FILE = OpenApiExample("a photo", value=ATTACHMENT, response_only=True)


class AttachmentIn(StrictSerializer):
    """The one part of the form."""

    file = UploadField(
        max_length=200,
        help_text=f"{', '.join(SUFFIXES)}, at most {MAX_BYTES // 1024 // 1024} MiB, with its file name",
    )


class _AttachmentView(ScopedView):
    """Finds a file at a facility that the caller may see."""

    def attachment_or_404(self, attachment_id: int) -> Attachment:
        """The facts of a file; to whoever may not see its facility it does not exist."""
        found = Attachment.objects.select_related("facility", "submitted_by").filter(pk=attachment_id).first()
        if found is None:
            raise Http404
        self.facility_or_404(found.facility_id)
        return found


class Attachments(ScopedView, GenericAPIView[Attachment]):
    """The files of a facility."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.RECORD}
    query_shape: ClassVar = PagedQuery
    serializer_class = AttachmentOut
    parser_classes = (MultiPartParser,)
    max_bytes = MAX_REQUEST
    too_large = f"A file may hold {MAX_BYTES} bytes at most; send a smaller copy."

    @extend_schema(
        operation_id="list_attachments",
        tags=["attachments"],
        summary="Photos and papers of a facility, newest entry first, withdrawn ones too",
        parameters=[PagedQuery],
        responses={200: AttachmentOut(many=True), **problem_responses(404, 422)},
        examples=[ON_FILE],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page."""
        rows = Attachment.objects.filter(facility=self.facility_or_404(facility_id))
        page = self.paginate_queryset(rows.select_related("submitted_by"))
        return self.get_paginated_response(AttachmentOut(page, many=True).data)

    @extend_schema(
        operation_id="send_attachment",
        tags=["attachments"],
        summary="Send a photo or a paper, to be named by a record or an answer to an alarm",
        description=(
            "Its kind is read from its content, whatever the form says; markup such as HTML and SVG is refused. The "
            "same bytes at the same facility are the same attachment: sent again, they are answered with 200 and what "
            "is on file, so no Idempotency-Key is needed. Nothing is ever deleted."
        ),
        request={"multipart/form-data": AttachmentIn},
        responses={200: AttachmentOut, 201: AttachmentOut, **body_problems(403, 404)},
        examples=[
            OpenApiExample(
                "a photo",
                value={"file": "(the bytes of sump-2.jpg)"},
                request_only=True,
                media_type="multipart/form-data",
            ),
            ON_FILE,
        ],
    )
    def post(self, request: Request, facility_id: int) -> Response:
        """The facts of the file."""
        facility = self.facility_or_404(facility_id)
        organisation = self.organisation_at(facility)
        form = AttachmentIn(data=request.data)
        form.is_valid(raise_exception=True)
        refuse(_more_than_one(request))
        sent: UploadedFile[bytes] = form.validated_data["file"]
        kept, is_new = keep_attachment(
            facility=facility,
            submitted_by=organisation,
            by=self.actor.name,
            now=self.now,
            name=str(sent.name),
            content=sent.read(),
        )
        return Response(AttachmentOut(kept).data, status=201 if is_new else 200)


class AttachmentDetail(_AttachmentView):
    """The facts of one file."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="get_attachment",
        tags=["attachments"],
        summary="What is known of a photo or paper",
        responses={200: AttachmentOut, **problem_responses(404)},
        examples=[ON_FILE],
    )
    def get(self, request: Request, attachment_id: int) -> Response:
        """Its facts, not its bytes."""
        return Response(AttachmentOut(self.attachment_or_404(attachment_id)).data)


class AttachmentContent(OneForm, _AttachmentView):
    """The bytes of one file."""

    rights: ClassVar = {"GET": Right.READ}
    renderer_classes = (JSONRenderer,)

    @extend_schema(
        operation_id="read_attachment",
        tags=["attachments"],
        summary="A photo or paper as it was sent, to be saved and not shown by the browser",
        description=(
            "Its entity tag is the SHA-256 of its bytes, which are compared with it before they are answered: a file "
            "that is missing or was altered in the storage is told as a problem."
        ),
        responses={
            (200, *SUFFIXES): OpenApiTypes.BINARY,
            304: OpenApiResponse(description="You have it."),
            **problem_responses(404, 500),
        },
        examples=[
            OpenApiExample(
                "a note", value="Float stuck.", response_only=True, media_type=TEXT, status_codes=["200"]
            )
        ],
    )
    def get(self, request: Request, attachment_id: int) -> HttpResponseBase:
        """The bytes; 304 for whoever has them."""
        attachment = self.attachment_or_404(attachment_id)
        tag = quote_etag(attachment.sha256)
        answer = HttpResponse(headers=_headers(attachment, tag))
        known = get_conditional_response(request._request, etag=tag, response=answer)
        if known is not None and known.status_code == 304:
            return known
        answer.content = content_of(attachment)
        return answer


class AttachmentWithdrawal(_AttachmentView):
    """Taking back a file that was sent by mistake."""

    rights: ClassVar = {"POST": Right.RECORD}

    @extend_schema(
        operation_id="withdraw_attachment",
        tags=["attachments"],
        summary="Take back a photo or paper that should never have been attached",
        description=(
            "It stays readable with the reason, wherever it is shown. The same reason again changes nothing. Open to "
            "whoever sent it, and to the facility's operator."
        ),
        request=WithdrawalIn,
        responses={200: AttachmentOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("as sent", value={"reason": "Photo of another sump."}, request_only=True),
            ON_FILE,
        ],
    )
    def post(self, request: Request, attachment_id: int) -> Response:
        """The facts with the withdrawal."""
        attachment = self.attachment_or_404(attachment_id)
        taken = take_back(self, request, attachment, facility=attachment.facility)
        return Response(AttachmentOut(taken).data)


def _more_than_one(request: Request) -> Iterator[Fault]:
    """Of two parts of one name a form gives the last; the other would be lost without a word."""
    if len(request.FILES.getlist("file")) > 1:
        yield Fault("/file", "came more than once; send each file in a request of its own", "repeated")


def _headers(attachment: Attachment, tag: str) -> dict[str, str]:
    """A browser saves the file, and were it to show it all the same, nothing in it may run or reach out."""
    charset = "; charset=utf-8" if attachment.media_type == TEXT else ""
    name = download_name(attachment.name, attachment.media_type)
    return {
        "Content-Type": attachment.media_type + charset,
        "Content-Disposition": str(content_disposition_header(True, name)),
        "Content-Security-Policy": "default-src 'none'; sandbox",
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": "private, no-cache",
        "ETag": tag,
    }
