"""Serve a book of your own: empty at first, one web server and one worker, until Ctrl-C."""

from django.conf import settings
from django.core.management import CommandError
from django.core.management.base import BaseCommand
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from registry.demo import demo_people
from registry.first_run.codes import new_code
from registry.models import User
from registry.serving import embedded
from registry.serving.upgrade import migrate


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser) -> None:
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *, port: int, **options) -> None:
        embedded.refuse_a_taken_port(port, "make start")
        address = embedded.address_of(port)
        migrate(self._say)
        _refuse_the_demo()
        embedded.set_up()
        embedded.serve(port, self._say, on_answer=lambda: self._print_address(address))

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()

    def _print_address(self, address: str) -> None:
        code = new_code(timezone.now())
        self._say("")
        if code:
            self._say("Your book is empty. This address opens it, once:")
            self._say(f"\n    {address}{reverse('registry:begin', args=[code])}\n")
        else:
            self._say(f"Your book is at {address}/")
        self._say(f"It is kept in {settings.VAR_DIR}. Ctrl-C stops it; make start goes on with it.")


def _refuse_the_demo() -> None:
    invented = [person.email for person in demo_people()]
    if User.objects.filter(email__in=invented).exists():
        raise CommandError(
            gettext(
                "The book in {folder} is the invented demo. Remove it, or give your own book "
                "another folder: make start RISERBOOK_VAR_DIR=/path/to/folder"
            ).format(folder=settings.VAR_DIR)
        )
