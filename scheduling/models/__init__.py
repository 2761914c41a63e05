from scheduling.models.feeds import FeedToken
from scheduling.models.rule_runs import RuleRun, SystemWatch
from scheduling.models.tasks import Task

__all__ = ["FeedToken", "RuleRun", "SystemWatch", "Task"]
