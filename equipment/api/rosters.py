"""Rosters of tanks: a CSV file small enough for one request, read by a shipped mapping or by one sent along."""

from typing import Any, ClassVar

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.facilities import operator_for, refuse_other
from equipment.api.scalars import MAX_ID, TextField, WholeField, WordField, YesNoField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.faults import Fault, Invalid, refuse
from equipment.roster.elements import FACILITY
from equipment.roster.mapping import RosterMapping
from equipment.roster.mapping_file import MappingError, shipped_mappings
from equipment.roster.reading import RosterError
from equipment.roster.report import Outcome, RowReport, as_plain
from equipment.services.rosters import Order, day_of_roster, import_roster, mapping_of
from equipment.tenancy import Right

MAX_ROWS = 2_000
MAX_BYTES = 2 * 1024 * 1024


@extend_schema_field(OpenApiTypes.BINARY)
class UploadField(serializers.FileField):
    """A file; an empty one is told so by whoever reads it."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(allow_empty_file=True, **kwargs)


class RosterIn(StrictSerializer):
    """The parts of the form. Name a shipped mapping, or send one of your own as `mapping_file`."""

    file = UploadField(help_text=f"CSV with a header, at most {MAX_ROWS} rows and {MAX_BYTES // 1024} KiB")
    mapping = serializers.CharField(required=False, help_text="name of a shipped mapping")
    mapping_file = UploadField(required=False, help_text="a mapping of your own, TOML")
    operator = serializers.IntegerField(
        required=False,
        min_value=1,
        max_value=MAX_ID,
        help_text="id of your operator organisation; left out: it all the same",
    )
    as_of = serializers.DateField(required=False, help_text="day of the roster; today unless told")
    constants = serializers.JSONField(
        required=False,
        binary=True,
        help_text='facility constants before those of the mapping: {"time_zone": "..."}',
    )
    dry_run = serializers.BooleanField(default=False, help_text="report what would happen; store nothing")
    # DRF takes declared fields off the class, so its own `update` stays as it was.
    update = serializers.BooleanField(  # type: ignore[assignment]
        default=False, help_text="apply what differs from the register"
    )

    def validate_constants(self, value: Any) -> Any:
        """An object by field name."""
        if not isinstance(value, dict):
            raise serializers.ValidationError(
                'Send a JSON object, such as {"time_zone": "America/New_York"}.'
            )
        return value

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Exactly one mapping."""
        if ("mapping" in attrs) == ("mapping_file" in attrs):
            raise serializers.ValidationError({"mapping": "Send either mapping or mapping_file."})
        return attrs


class RosterRemark(StrictSerializer):
    """What to know about a row."""

    column = TextField(read_only=True)
    value = TextField(read_only=True, help_text="what stood there")
    reason = TextField(read_only=True, help_text="what was made of it, and why")


class RosterRow(StrictSerializer):
    """What became of a row; the header is row 1."""

    row = WholeField(read_only=True)
    outcome = WordField(choices=[one.value for one in Outcome], read_only=True)
    facility = TextField(read_only=True)
    tank = TextField(read_only=True)
    remarks = RosterRemark(many=True, read_only=True)
    differs = YesNoField(read_only=True, help_text="contradicts the register, which stands")


class RosterSummary(StrictSerializer):
    """Counts of the whole file."""

    rows = WholeField(read_only=True)
    imported = WholeField(read_only=True)
    imported_with_remarks = WholeField(read_only=True)
    unchanged = WholeField(read_only=True)
    refused = WholeField(read_only=True)
    differing = WholeField(read_only=True)
    facilities_opened = WholeField(read_only=True)
    components_added = WholeField(read_only=True)
    facts_updated = WholeField(read_only=True)
    dry_run = YesNoField(read_only=True)
    notes = serializers.ListField(child=TextField(), read_only=True)


class RosterReport(StrictSerializer):
    """What became of a roster, or, after a dry run, what would."""

    summary = RosterSummary(read_only=True)
    rows = RosterRow(many=True, read_only=True)


class RosterMappingOut(StrictSerializer):
    """A mapping that comes with the service."""

    name = TextField(read_only=True)
    title = TextField(read_only=True)
    columns = serializers.ListField(child=TextField(), read_only=True, help_text="that the header must have")
    toml = TextField(read_only=True, help_text="the file, a pattern for your own")


FORM = {"file": "(the CSV file)", "mapping": "state-extract", "as_of": "2026-02-27", "dry_run": True}
EXAMPLE = {
    "summary": {
        "rows": 1,
        "imported": 0,
        "imported_with_remarks": 1,
        "unchanged": 0,
        "refused": 0,
        "differing": 0,
        "facilities_opened": 1,
        "components_added": 3,
        "facts_updated": 0,
        "dry_run": True,
        "notes": [],
    },
    "rows": [
        {
            "row": 2,
            "outcome": "imported with remarks",
            "facility": "6583",
            "tank": "1",
            "remarks": [
                {
                    "column": "capacity_gal",
                    "value": "0",
                    "reason": "must be above 0; kept as unknown",
                }
            ],
            "differs": False,
        }
    ],
}


class Rosters(ScopedView):
    """Import of a roster."""

    rights: ClassVar = {"POST": Right.REGISTER}
    parser_classes = (MultiPartParser,)
    max_bytes = MAX_BYTES
    too_large = f"A request takes {MAX_BYTES} bytes; use the command import_roster for a larger file."

    @extend_schema(
        operation_id="import_roster",
        tags=["rosters"],
        summary="Import a roster of tanks, or try it with dry_run",
        description=(
            "New facilities and tanks are added. What is on file is compared; a row that differs is reported and the "
            "register stands, unless `update` is set. The same file again changes nothing, so no Idempotency-Key is "
            "needed. A request that fails stores nothing."
        ),
        request={"multipart/form-data": RosterIn},
        responses={200: RosterReport, **body_problems(403)},
        examples=[
            OpenApiExample(
                "by a shipped mapping", value=FORM, request_only=True, media_type="multipart/form-data"
            ),
            OpenApiExample("a dry run", value=EXAMPLE, response_only=True, status_codes=["200"]),
        ],
    )
    def post(self, request: Request) -> Response:
        """The report: counts, and every row."""
        operator = operator_for(self.actor, right=Right.REGISTER)
        form = RosterIn(data=request.data)
        form.is_valid(raise_exception=True)
        sent = form.validated_data
        refuse_other(operator, sent.get("operator"))
        mapping = _mapping(sent)
        order = Order(
            mapping=mapping,
            operator=operator,
            by=self.actor.name,
            now=self.now,
            as_of=day_of_roster(mapping, sent.get("as_of"), now=self.now),
            dry_run=sent["dry_run"],
            update=sent["update"],
            max_rows=MAX_ROWS,
        )
        rows: list[RowReport] = []
        try:
            summary = import_roster(source=sent["file"], name="file", order=order, tell=rows.append)
        except RosterError as error:
            raise Invalid("The file cannot be read as a roster.", [Fault("/file", str(error))]) from error
        return Response(as_plain(rows, summary))


class RosterMappings(ScopedView):
    """Mappings that come with the service."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="list_roster_mappings",
        tags=["rosters"],
        summary="Mappings that come with the service",
        responses={200: RosterMappingOut(many=True), **problem_responses()},
        examples=[
            OpenApiExample(
                "one row a tank",
                value={
                    "name": "state-extract",
                    "title": "State register extract, one row a tank",
                    "columns": ["facility_id", "tank_id", "status"],
                    "toml": 'title = "State register extract, one row a tank"\n...',
                },
                response_only=True,
            )
        ],
    )
    def get(self, request: Request) -> Response:
        """Every mapping, by name."""
        found = []
        for name, path in shipped_mappings().items():
            content = path.read_bytes()
            mapping = mapping_of(content, name=path.name)
            found.append(
                {
                    "name": name,
                    "title": mapping.title,
                    "columns": mapping.needed_columns(),
                    "toml": content.decode(),
                }
            )
        return Response(RosterMappingOut(found, many=True).data)


def _mapping(sent: dict[str, Any]) -> RosterMapping:
    constants = {FACILITY: sent["constants"]} if "constants" in sent else None
    pointer, content = "/mapping_file", b""
    if "mapping_file" in sent:
        content = sent["mapping_file"].read()
    elif path := shipped_mappings().get(sent["mapping"]):
        pointer, content = "/mapping", path.read_bytes()
    else:
        known = ", ".join(shipped_mappings())
        refuse([Fault("/mapping", f"no mapping of this name; shipped: {known}", "unknown")])
    try:
        return mapping_of(content, name=pointer[1:], constants=constants)
    except MappingError as error:
        raise Invalid(
            "The mapping cannot be used.", [Fault(pointer, fault) for fault in error.faults]
        ) from error
