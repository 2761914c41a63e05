from scheduling.models.attachments import Attachment
from scheduling.models.feeds import FeedToken
from scheduling.models.library import AdoptedEdition, OwnItem, SiteWinter, SystemAnswer
from scheduling.models.recurring import Occurrence, RecurringItem, SprinklerArea
from scheduling.models.rule_runs import RuleRun, SystemWatch
from scheduling.models.tasks import Task

__all__ = [
    "AdoptedEdition",
    "Attachment",
    "FeedToken",
    "Occurrence",
    "OwnItem",
    "RecurringItem",
    "RuleRun",
    "SiteWinter",
    "SprinklerArea",
    "SystemAnswer",
    "SystemWatch",
    "Task",
]
