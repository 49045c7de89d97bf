"""The catalogue of activities: their measurements, cautions, schemas, and the walkthrough checklist."""

from equipment.activities.catalogue import Activity, Measurement, activity, catalogue, slugs

__all__ = ["Activity", "Measurement", "activity", "catalogue", "slugs"]
