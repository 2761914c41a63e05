"""The job queue: the app object and the table of recurring jobs, nothing else."""

import os

from celery import Celery
from celery.schedules import crontab

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("riserbook")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()

app.conf.beat_schedule = {
    "sweep-follow-ups": {
        "task": "scheduling.tasks.sweep",
        "schedule": crontab(minute="*/10"),
        "options": {
            "expires": 600
        },  # the next one does the same: none piles up behind a dead worker
    },
    "send-messages": {
        "task": "scheduling.tasks.send_messages",
        "schedule": crontab(),
        "options": {"expires": 60},
    },
    "ask-for-digests": {
        "task": "scheduling.tasks.ask_for_digests",
        "schedule": crontab(minute="*/15"),
    },
    "tidy": {"task": "scheduling.tasks.tidy", "schedule": crontab(hour=3, minute=30)},
    "sweep-imports": {"task": "registry.tasks.sweep_imports", "schedule": crontab(minute="*/5")},
    "plan-recurring": {
        "task": "scheduling.tasks.plan_recurring_work",
        "schedule": crontab(hour=0, minute=45),
    },
    "assess-all": {"task": "scheduling.tasks.assess_all", "schedule": crontab(hour=0, minute=15)},
    "catch-up": {
        "task": "scheduling.tasks.catch_up",
        "schedule": crontab(minute="5-59/10"),
        "options": {"expires": 600},
    },
}
