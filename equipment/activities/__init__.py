"""The catalogue of activities: their measurements, cautions, schemas, and the walkthrough checklist."""

# `catalogue()` itself is not re-exported: it would hide the module of the same name.
from equipment.activities.catalogue import Activity, Measurement, activity, slugs

__all__ = ["Activity", "Measurement", "activity", "slugs"]
