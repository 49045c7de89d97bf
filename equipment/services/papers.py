"""Files papers with their good days, what an agency found, and what it decided in writing."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from equipment.fact_vocabulary import DOCUMENT_TYPES
from equipment.faults import Fault, no_component, refuse
from equipment.models import (
    AgencyFinding,
    AgencyOverride,
    Component,
    Document,
    DocumentAttachment,
    Facility,
    Organisation,
)
from equipment.services.attachments import attachments_named, unusable
from equipment.services.stating import refuse_slip, state_fact


@transaction.atomic
def file_document(
    *,
    facility: Facility,
    submitted_by: Organisation,
    by: str,
    now: datetime,
    subjects: Sequence[str],
    fields: Mapping[str, Any],
    attachments: Sequence[int] = (),
) -> Document:
    """Put a paper on file; without subjects it is about the whole facility. It may become good on a coming day.

    `attachments`: numbers of files at this facility that are the paper.
    """
    refuse_slip("/type", fields["type"], DOCUMENT_TYPES)
    refuse(unusable(attachments_named(facility, attachments), attachments, "/attachments"))
    paper = state_fact(
        Document,
        facility=facility,
        submitted_by=submitted_by,
        by=by,
        now=now,
        fields=fields,
        past=("received_on",),
        subjects=subjects,
    )
    DocumentAttachment.objects.bulk_create(
        DocumentAttachment(document=paper, attachment_id=number) for number in dict.fromkeys(attachments)
    )
    return paper


def state_agency_finding(
    *,
    facility: Facility,
    submitted_by: Organisation,
    by: str,
    now: datetime,
    fields: Mapping[str, Any],
) -> AgencyFinding:
    """Put on file what an agency determined."""
    return state_fact(
        AgencyFinding,
        facility=facility,
        submitted_by=submitted_by,
        by=by,
        now=now,
        fields=fields,
        past=("determined_on", "served_on"),
    )


@transaction.atomic
def state_agency_override(
    *,
    facility: Facility,
    submitted_by: Organisation,
    by: str,
    now: datetime,
    component: str | None,
    document: int,
    params: Mapping[str, Any],
    fields: Mapping[str, Any],
) -> AgencyOverride:
    """Put on file the figures (`params`) that an agency set for this case. `component`: a tag, None for the whole
    facility; `document`: number of the agency's letter, which must be on file here.
    """
    place = Component.objects.filter(facility=facility, tag=component).first() if component else None
    letter = Document.objects.filter(facility=facility, pk=document, withdrawn_at=None).first()
    faults = []
    if component and place is None:
        faults.append(no_component("/component", component))
    if letter is None:
        faults.append(
            Fault("/document", "no such document at this facility; file the letter first", "unknown")
        )
    refuse(faults)
    return state_fact(
        AgencyOverride,
        facility=facility,
        submitted_by=submitted_by,
        by=by,
        now=now,
        fields={**fields, "component": place, "document": letter, "params": dict(params)},
    )
