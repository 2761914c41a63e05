"""The job queue: the app object and the table of recurring jobs, nothing else."""

import os

from celery import Celery
from celery.schedules import crontab

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("riserbook")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()

app.conf.beat_schedule = {
    "sweep-follow-ups": {"task": "scheduling.tasks.sweep", "schedule": crontab(minute="*/10")},
    "sweep-imports": {"task": "registry.tasks.sweep_imports", "schedule": crontab(minute="*/5")},
    "assess-all": {"task": "registry.tasks.assess_all", "schedule": crontab(hour=0, minute=15)},
}
