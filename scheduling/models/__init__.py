from scheduling.models.attachments import Attachment
from scheduling.models.bookings import Crew, TaskEvent, WorkState
from scheduling.models.feeds import FeedToken
from scheduling.models.library import AdoptedEdition, OwnItem, SiteWinter, SystemAnswer
from scheduling.models.policies import Escalation, EscalationLevel, RuleSetting
from scheduling.models.recurring import Occurrence, RecurringItem, SprinklerArea
from scheduling.models.rule_runs import RuleRun, SystemWatch
from scheduling.models.tasks import Task

__all__ = [
    "AdoptedEdition",
    "Attachment",
    "Crew",
    "Escalation",
    "EscalationLevel",
    "FeedToken",
    "Occurrence",
    "OwnItem",
    "RecurringItem",
    "RuleRun",
    "RuleSetting",
    "SiteWinter",
    "SprinklerArea",
    "SystemAnswer",
    "SystemWatch",
    "Task",
    "TaskEvent",
    "WorkState",
]
