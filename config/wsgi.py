import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()

from django.conf import settings  # noqa: E402

from registry.serving import in_use  # noqa: E402

in_use.share(settings.VAR_DIR)
