"""The project's queue with a clock that ticks every second, so that no test waits minutes."""

from config.celery import app

app.conf.beat_schedule = {
    name: {"task": f"scheduling.tasks.{name}", "schedule": 1.0, "options": {"expires": 30}}
    for name in ("sweep", "send_messages")
}
app.conf.beat_max_loop_interval = 1
