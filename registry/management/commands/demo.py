"""Serve the demo portfolio: one web server and one worker, until Ctrl-C."""

from django.core.management import call_command
from django.core.management.base import BaseCommand

from registry.demo import demo_password, demo_people
from registry.serving import embedded

LOADED_IN_ORDER = ("load_demo", "load_demo_schedule", "load_demo_orders", "rescore")


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser) -> None:
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *, port: int, **options) -> None:
        embedded.refuse_a_taken_port(port, "make demo")
        embedded.address_of(port)
        call_command("migrate", verbosity=0)
        embedded.set_up()
        for step in LOADED_IN_ORDER:
            call_command(step)
        embedded.serve(port, self._say, on_answer=lambda: self._print_sign_ins(port))

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()

    def _print_sign_ins(self, port: int) -> None:
        self.stdout.write(f"\nRiserbook is at http://localhost:{port}  (Ctrl-C stops it)\n")
        for person in demo_people():
            self.stdout.write(f"  {person.email:34} {demo_password()}   {person.does}")
        self._say("")
