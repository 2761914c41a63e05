"""The jobs of the schedule: what time alone brings about, and what is too long for a request."""

import logging
from datetime import timedelta

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from registry.jobs import DAY, HOUR, MINUTE, Every, Run, ask, job
from registry.models import RecordPackage, System
from registry.services.assessments import assess_systems
from scheduling.jobs import sweep as sweeping
from scheduling.messages import digest, sending
from scheduling.models import Message, PlanAsked, WeekPlan
from scheduling.planning.weeks.proposing import CREW_PLAN, give_up_plan, make_plan
from scheduling.recurring.replanning import PLAN, ask_for_every_plan, plan_asked
from scheduling.verifying import verify_all
from scheduling.verifying.packaged import given_up, make_package
from scheduling.verifying.packaging import PACKAGE

log = logging.getLogger(__name__)

SWEEP, SWEEP_PART = "scheduling.sweep", "scheduling.sweep_part"
MESSAGES, DIGESTS = "scheduling.messages", "scheduling.digests"
VERIFY = "scheduling.verify_records"
NIGHTLY, ASSESSMENTS = "scheduling.plan_nightly", "scheduling.assessments"


@job(SWEEP, _("Sweep"), every=Every(10 * MINUTE), time_limit=HOUR)
def sweep(run: Run) -> None:
    """All of it, or a part for each of several workers."""
    parts = settings.SWEEP_PARTS
    if parts == 1:
        run.outcome = _sweep(run, sweeping.Share())
        return
    for part in range(parts):
        ask(SWEEP_PART, key=f"{part + 1} of {parts}", arguments={"part": part, "parts": parts})
    run.outcome = f"{parts} parts asked for"


@job(SWEEP_PART, _("Sweep, a part"), time_limit=HOUR)
def sweep_part(run: Run) -> None:
    run.outcome = _sweep(run, sweeping.Share(**run.arguments))


def _sweep(run: Run, share: sweeping.Share) -> str:
    return str(sweeping.sweep(run.clock(), share=share, on_piece=run.advance))


@job(
    MESSAGES,
    _("Messages"),
    every=Every(MINUTE),
    is_idle=lambda now: not Message.objects.due(now).exists(),
)
def send_messages(run: Run) -> None:
    sent = sending.send_due(run.clock, run.advance)
    run.outcome = f"{sent} mails and deliveries handled"


@job(DIGESTS, _("Weekly digests"), every=Every(15 * MINUTE))
def ask_for_digests(run: Run) -> None:
    asked = digest.ask_for_digests(run.clock())
    run.advance(asked)
    run.outcome = f"{asked} weekly digests asked for"


@job(ASSESSMENTS, _("Assessments"), every=Every(DAY, 15 * MINUTE), time_limit=timedelta(hours=3))
def assess_all(run: Run) -> None:
    """Nightly: time alone moves a score, since forecasts age and atmospheres lapse. A run that
    comes after a lost one finds what that had assessed today and leaves it."""
    tally = assess_systems(System.objects.all(), run.clock(), on_chunk=run.advance)
    run.outcome = (
        f"{tally.added} assessments added, {tally.refreshed} refreshed, {tally.unchanged} "
        f"of today already, {tally.left_out} systems left out"
    )


@job(NIGHTLY, _("Recurring work, nightly"), every=Every(DAY, 45 * MINUTE))
def plan_recurring_work(run: Run) -> None:
    """A library that came with a new version of the program reaches every plan."""
    asked = ask_for_every_plan(run.clock())
    run.advance(asked)
    run.outcome = f"owners asked for: {asked}"
    if PlanAsked.objects.exists():
        ask(PLAN, key="")


@job(VERIFY, _("Check of the whole book"), every=Every(DAY, 3 * HOUR), time_limit=4 * HOUR)
def verify_records(run: Run) -> None:
    """Nightly: every chain, head, derived row and log, so that what was changed from outside is
    found while somebody still remembers."""
    verdicts = verify_all(run.clock(), run.advance)
    records, wrong = sum(one.records for one in verdicts), sum(not one.holds for one in verdicts)
    run.outcome = f"{records} records checked; books that do not hold: {wrong}"


@job(
    PACKAGE,
    _("Package of records"),
    time_limit=3 * HOUR,
    given_up=lambda row, words: given_up(
        RecordPackage.objects.get(pk=row.arguments["package"]), words
    ),
)
def package_records(run: Run) -> None:
    package = RecordPackage.objects.select_related("owner", "asked_by").get(
        pk=run.arguments["package"]
    )
    if not package.is_over:
        make_package(package, now=run.clock(), on_piece=run.advance)
    run.outcome = "Refused" if package.refused else f"{package.bytes} bytes"


@job(PLAN, _("Recurring work"), time_limit=timedelta(hours=2))
def plan_what_was_asked(run: Run) -> None:
    """What is asked for meanwhile is taken up as well."""
    run.outcome = f"{plan_asked(run.clock, run.advance)} systems planned"


@job(
    CREW_PLAN,
    _("Crew plan"),
    time_limit=HOUR,
    given_up=lambda row, words: give_up_plan(row.arguments["plan"], words, timezone.now()),
)
def plan_crews_of_week(run: Run) -> None:
    """The plan so far is kept as it gets better, so that a run that was lost goes on from there."""
    plan = WeekPlan.objects.select_related("organisation").get(pk=run.arguments["plan"])
    run.outcome = make_plan(plan, run.clock, run.advance)[:300]
