"""The web server: `gunicorn config.wsgi --config config/gunicorn.conf.py`.

Threads, because a page waits for its database more than it computes. The time limit is that of a
worker that says nothing at all: with threads the worker goes on saying that it lives while a first
calendar of thousands of entries is built, so no long request ends it.
"""

import os
from pathlib import Path

bind = os.environ.get("BIND", "127.0.0.1:8000")
workers = int(os.environ.get("WEB_WORKERS", "2"))
threads = int(os.environ.get("WEB_THREADS", "4"))
worker_class = "gthread"
preload_app = True
timeout = int(os.environ.get("WEB_TIMEOUT", "120"))
graceful_timeout = 30
keepalive = 5
max_requests, max_requests_jitter = 20_000, 2_000
limit_request_line = 8190
worker_tmp_dir = "/dev/shm" if Path("/dev/shm").is_dir() else None  # nosec B108
loglevel = "warning"
accesslog = None  # the book writes one line a request itself, with its id and the person's key
