"""Print the address that opens an empty book, once; a new one takes the place of an earlier one."""

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from registry.first_run.codes import new_code


class Command(BaseCommand):
    help = __doc__

    def handle(self, **options) -> None:
        code = new_code(timezone.now())
        if code is None:
            raise CommandError(
                gettext("Somebody signs in to this book already; it is begun only once.")
            )
        self.stdout.write(settings.PUBLIC_URL + reverse("registry:begin", args=[code]))
