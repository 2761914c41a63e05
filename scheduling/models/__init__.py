from scheduling.models.bookings import Crew, TaskEvent, WorkState
from scheduling.models.feeds import FeedToken
from scheduling.models.library import AdoptedEdition, OwnItem, SiteWinter, SystemAnswer
from scheduling.models.messages import MailPreference, Message, Notice
from scheduling.models.planning import PlanAsked
from scheduling.models.policies import Escalation, EscalationLevel, RuleSetting
from scheduling.models.recurring import Occurrence, RecurringItem, SprinklerArea
from scheduling.models.reports import ReportBatch, ReportKind, ReportSchedule
from scheduling.models.revisions import CalendarTurn, Revision
from scheduling.models.rule_runs import RuleFailure, RuleRun, SystemWatch
from scheduling.models.tasks import Task
from scheduling.models.vans import Depot, Place, PlanningPolicy, WeekPlan, WorkTime
from scheduling.models.webhooks import Delivery, WebhookEndpoint

__all__ = [
    "AdoptedEdition",
    "CalendarTurn",
    "Crew",
    "Depot",
    "Escalation",
    "EscalationLevel",
    "Delivery",
    "FeedToken",
    "MailPreference",
    "Message",
    "Notice",
    "Occurrence",
    "OwnItem",
    "Place",
    "PlanAsked",
    "PlanningPolicy",
    "RecurringItem",
    "ReportBatch",
    "ReportKind",
    "ReportSchedule",
    "Revision",
    "RuleFailure",
    "RuleRun",
    "RuleSetting",
    "SiteWinter",
    "SprinklerArea",
    "SystemAnswer",
    "SystemWatch",
    "Task",
    "TaskEvent",
    "WorkState",
    "WebhookEndpoint",
    "WeekPlan",
    "WorkTime",
]
