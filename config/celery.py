"""Celery on Redis: it wakes the claims of the job rows, and a tick makes up for a lost word."""

import logging
import os

from celery import Celery, bootsteps

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

log = logging.getLogger(__name__)

TICK_S = 5.0

app = Celery("riserbook")
app.config_from_object("django.conf:settings", namespace="CELERY")


@app.task(name="registry.jobs.wake", ignore_result=True)
def wake() -> None:
    from registry.jobs.worker import Worker

    Worker(at_once=1).work_off()


class Tick(bootsteps.StartStopStep):
    """Each worker looks for what is due every few seconds: there is no clock that could die."""

    requires = {"celery.worker.consumer.tasks:Tasks"}

    def __init__(self, consumer, **options):
        self.timer = None

    def start(self, consumer) -> None:
        self.timer = consumer.timer.call_repeatedly(TICK_S, self.tick)

    def stop(self, consumer) -> None:
        if self.timer:
            self.timer.cancel()
            self.timer = None

    def tick(self) -> None:
        try:
            wake.apply_async(expires=TICK_S, retry=False)
        except Exception as error:
            log.warning("jobs.no_tick %s", error)


app.steps["consumer"].add(Tick)
