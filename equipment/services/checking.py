"""Checks a row before it is written, and says what the database would refuse in words that a person can act on."""

from collections.abc import Iterator

from django.core.exceptions import ValidationError
from django.db import models

from equipment.faults import Fault, refuse

# What each constraint means to whoever broke it: where to look, and what to do. A constraint that is missing here
# still refuses; tests/equipment/test_checking.py holds the list complete.
MEANING: dict[str, tuple[str, str]] = {
    "facility_code_unique_for_operator": ("/code", "another facility of this operator has this code"),
    "facility_on_earth": ("", "latitude goes from -90 to 90, longitude from -180 to 180"),
    "facility_amounts_not_negative": ("", "amounts are zero or more"),
    "tag_unique_at_facility": ("/tag", "another component of this facility has this tag"),
    "component_kind_known": ("/kind", "no such kind"),
    "removed_after_installed": ("/removed_on", "lies before installed_on"),
    "component_not_its_own_parent": ("/parent", "a component cannot be part of itself"),
    "component_replaces_another": ("/replaces", "a component cannot replace itself"),
    "tank_system_hangs_on_the_facility": (
        "/parent",
        "a tank system is part of the facility itself; send null",
    ),
    "tank_capacity_above_zero": ("/compartment_capacity_gallons", "must be above zero; null means unknown"),
    "tank_diameter_above_zero": ("/diameter_in", "must be above zero; null means unknown"),
    "tank_ethanol_is_a_percentage": ("/ethanol_pct", "goes from 0 to 100"),
    "tank_biodiesel_is_a_percentage": ("/biodiesel_pct", "goes from 0 to 100"),
    "compartment_capacity_above_zero": (
        "/compartment_capacity_gallons",
        "must be above zero; null means unknown",
    ),
    "spill_bucket_capacity_above_zero": ("/capacity_gal", "must be above zero; null means unknown"),
    "overfill_level_is_a_percentage": ("/set_level_pct", "goes from 0 to 100"),
    "vent_height_above_zero": ("/height_ft", "must be above zero; null means unknown"),
    "sump_capacity_above_zero": ("/capacity_gal", "must be above zero; null means unknown"),
    "sensor_window_opens_upwards": ("/window_high_in", "must be above window_low_in"),
    "hose_length_above_zero": ("/length_ft", "must be above zero; null means unknown"),
    "one_component_status_a_day": ("/effective_on", "a status of this day is on file; withdraw it first"),
    "one_facility_status_a_day": ("/effective_on", "a status of this day is on file; withdraw it first"),
    "one_component_value_a_day": ("/effective_on", "a value of this day is on file; withdraw it first"),
    "one_facility_value_a_day": ("/effective_on", "a value of this day is on file; withdraw it first"),
    "status_known": ("/status", "no such status"),
    "residue_measured": ("", "residue_in is zero or more, residue_pct goes from 0 to 100"),
    "statuschange_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "fieldchange_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "document_type_stated": ("/type", "say what kind of paper it is"),
    "document_expires_after_issue": ("/expires_on", "lies before issued_on"),
    "document_ends_after_issue": ("/ended_on", "lies before issued_on"),
    "document_cover_not_negative": ("", "amounts are zero or more"),
    "designation_class_known": ("/operator_class", "no such operator class"),
    "designation_ends_after_it_began": ("/ended_on", "lies before assumed_duties_on"),
    "designated_once_at_a_time": (
        "/person",
        "this person holds this class here already; end that designation first",
    ),
    "delivery_ends_after_it_started": ("/ended_at", "lies before started_at"),
    "delivery_gallons_not_negative": ("", "gallons are zero or more"),
    "delivery_end_has_a_day": ("/ended_at", "an instant has a day"),
    "one_closing_a_day": ("/on", "this day is on file; correct it with supersedes and a reason"),
    "inventory_day_corrected_once": ("/supersedes", "it was corrected already; correct what stands now"),
    "inventory_correction_has_a_reason": ("/reason", "a correction says why"),
    "inventory_gallons_not_negative": ("", "gallons are zero or more"),
    "inventory_opening_has_a_basis": ("/opening_gal", "an opening says on which basis"),
    "inventory_delivery_not_negative": ("", "gallons are zero or more"),
    "spill_gallons_not_negative": ("/gal_to_environment", "gallons are zero or more"),
    "release_identification_has_a_day": ("/identified_at", "an instant has a day"),
    "finding_type_known": ("/type", "no such type of finding"),
    "override_names_a_rule": ("/rule", "name the rule"),
    "override_ends_after_it_began": ("/to_on", "lies before from_on"),
    "plan_type_stated": ("/type", "say what is planned"),
    "plan_blend_is_a_percentage": ("", "to_ethanol_pct and to_biodiesel_pct go from 0 to 100"),
    "site_event_type_known": ("/type", "no such type of event"),
    "designation_end_stated_by_somebody": ("/ended_on", "an end says who stated it"),
    "document_end_stated_by_somebody": ("/ended_on", "an end says who stated it"),
    "agencyfinding_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "agencyoverride_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "delivery_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "designation_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "document_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "inventoryday_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "plan_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "release_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "siteevent_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "spill_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "tankchart_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "attachment_withdrawn_with_a_reason": ("/reason", "a withdrawal says why"),
    "attachment_on_file_once": ("", "the same bytes are on file here; name that attachment"),
    "attachment_not_empty": ("", "the file is empty"),
    "attachment_type_known": ("/media_type", "no such kind of file is taken"),
    "chart_source_known": ("/source", "no such source of a chart"),
    "computed_chart_says_from_what": ("/geometry", "a computed chart says from which geometry"),
    "one_chart_a_day": ("/effective_on", "a chart from this day on is on file; withdraw it first"),
    "one_chart_from_the_start": (
        "/effective_on",
        "a chart from the tank's first day is on file; withdraw it, or say from which day the new one holds",
    ),
}


def clean(row: models.Model, exclude: set[str] | None = None) -> None:
    """Refuse a row that breaks a rule of its columns or a constraint of its tables, with a pointer to each place."""
    try:
        row.full_clean(exclude=exclude, validate_unique=False, validate_constraints=False)
    except ValidationError as error:
        refuse(faults_of(error))
    refuse(_broken_constraints(row))


def faults_of(error: ValidationError) -> list[Fault]:
    """A Django validation error as faults; what concerns the row as a whole points at the document's root."""
    if not hasattr(error, "error_dict"):
        return [Fault("", "; ".join(error.messages), error.code or "invalid")]
    return [
        Fault("" if name == "__all__" else f"/{name}", "; ".join(inner.messages), inner.code or "invalid")
        for name, inners in error.error_dict.items()
        for inner in inners
    ]


def _broken_constraints(row: models.Model) -> Iterator[Fault]:
    for model, constraints in row.get_constraints():
        for constraint in constraints:
            try:
                constraint.validate(model, row)
            except ValidationError as error:
                pointer, meaning = MEANING.get(constraint.name, ("", "; ".join(error.messages)))
                code = "taken" if isinstance(constraint, models.UniqueConstraint) else "constraint"
                yield Fault(pointer, meaning, code)
