"""The queue. A job is a row; a worker claims it by a conditional UPDATE and runs it in a process of
its own. Embedded, one loop looks for what is due; in service, Celery on Redis wakes these claims.
"""

from registry.jobs.asking import ask
from registry.jobs.kinds import DAY, HOUR, MINUTE, Every, job
from registry.jobs.run import Run

__all__ = ["DAY", "HOUR", "MINUTE", "Every", "Run", "ask", "job"]
