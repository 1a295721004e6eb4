"""Where a WSGI server takes hold: `shopfloor.wsgi:application`."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopfloor.settings")

application = get_wsgi_application()
