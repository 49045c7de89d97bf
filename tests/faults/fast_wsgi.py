"""The service's web application by the clock of `fast_celery`: `gunicorn tests.faults.fast_wsgi`."""

from compliance.config.wsgi import application
from tests.faults import fast_celery

__all__ = ["application", "fast_celery"]
