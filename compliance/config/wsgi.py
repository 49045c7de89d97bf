"""The web application for gunicorn: `gunicorn compliance.config.wsgi`."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "compliance.config.settings")
application = get_wsgi_application()
