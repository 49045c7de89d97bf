"""The project package. Importing it loads the Celery app, so that shared tasks find their broker."""

from compliance.config.celery import app as celery_app

__all__ = ["celery_app"]
