"""How rows are read: who may see or change what (here and nowhere else), and what is current."""

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import (
    BooleanField,
    Case,
    Exists,
    ExpressionWrapper,
    F,
    FloatField,
    OuterRef,
    Q,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Coalesce, Pi, Power
from django.utils import timezone

from registry.kinds import KINDS
from registry.kinds.facts import WITHDRAWN
from registry.kinds.meaning import PipeEvidence
from registry.models.local_days import DayThere

if TYPE_CHECKING:
    from registry.models import AuditAccess, User

OWNER_WRITERS = ("manager", "recorder")


def _owner_roles(user: "User", prefix: str, roles: tuple[str, ...] | None = None) -> Q:
    """The owner's own people; `prefix` leads from the row to its owning organisation."""
    query = Q(**{f"{prefix}memberships__user": user, f"{prefix}kind": "owner"})
    return query & Q(**{f"{prefix}memberships__role__in": roles}) if roles else query


def contract_in_force(now: datetime, contract: str, zone: str) -> Q:
    """By the clock at the site: the first day begins there and the last one ends there. `contract`
    leads from the row to its contract, and `zone` to its time zone."""
    today = DayThere(F(zone), now)
    has_begun = Q(**{f"{contract}starts_on__lte": today})
    lasts = Q(**{f"{contract}ends_on__isnull": True}) | Q(**{f"{contract}ends_on__gte": today})
    return has_begun & lasts


def _serves(user: "User", roles: tuple[str, ...] | None = None) -> Q:
    """The people of a contractor whose contract for the site is in force."""
    contract = "service_contracts__"
    query = Q(**{f"{contract}contractor__memberships__user": user})
    if roles:
        query &= Q(**{f"{contract}contractor__memberships__role__in": roles})
    return query & contract_in_force(timezone.now(), contract, "time_zone")


def audit_in_force(now: datetime, access: str = "") -> Q:
    """The last day ends with the day in UTC: one access may reach sites in many zones."""
    today = now.astimezone(UTC).date()
    return Q(**{f"{access}ends_on__isnull": True}) | Q(**{f"{access}ends_on__gte": today})


def _audits(user: "User") -> Q:
    """Sites that an auditor's access reaches now."""
    access = "owner__audit_access_given__"
    reached = Q(**{f"{access}has_all_sites": True}) | Q(**{f"{access}sites": F("pk")})
    mine = Q(**{f"{access}auditor__memberships__user": user})
    return mine & audit_in_force(timezone.now(), access) & reached


class AccessQuerySet(models.QuerySet):
    """Rows that lie at a site: `site_path` leads there ("" for the site itself)."""

    site_path = ""

    def _at(self, condition: Q):
        from registry.models import Site

        site = Site.objects.filter(condition).values("pk")
        key = f"{self.site_path.removesuffix('__')}__in" if self.site_path else "pk__in"
        return self.filter(**{key: site})

    def visible_to(self, user: "User"):
        if not user.is_authenticated:
            return self.none()
        return self._at(_owner_roles(user, "owner__") | _serves(user) | _audits(user))

    def recordable_by(self, user: "User"):
        """Rows for which the person may log events, readings and runs."""
        if not user.is_authenticated:
            return self.none()
        return self._at(_owner_roles(user, "owner__", OWNER_WRITERS) | _serves(user, OWNER_WRITERS))

    def manageable_by(self, user: "User"):
        """Rows whose register facts the person may change."""
        if not user.is_authenticated:
            return self.none()
        return self._at(_owner_roles(user, "owner__", ("manager",)))


class SiteQuerySet(AccessQuerySet):
    site_path = ""


class OwnedQuerySet(models.QuerySet):
    """Rows that belong to an owner rather than to a site: its own people know of them, and its
    managers alone may look into them."""

    def visible_to(self, user: "User"):
        return self._of(user)

    def manageable_by(self, user: "User"):
        return self._of(user, ("manager",))

    def _of(self, user: "User", roles: tuple[str, ...] | None = None):
        if not user.is_authenticated:
            return self.none()
        return self.filter(_owner_roles(user, "owner__", roles)).distinct()


class ThroughSystemQuerySet(AccessQuerySet):
    site_path = "system__site__"


def audits_of_a_period(user: "User") -> list["AuditAccess"]:
    """Access in force that is limited to a period; read once for a person who is signed in."""
    from registry.models import AuditAccess

    if not user.is_authenticated:
        return []
    if user.audits_of_a_period is None:
        has_period = Q(happened_from__isnull=False) | Q(happened_before__isnull=False)
        user.audits_of_a_period = list(AuditAccess.objects.of(user).filter(has_period).distinct())
    return user.audits_of_a_period


def _read_whole(user: "User", limited: list["AuditAccess"]) -> Q:
    """Sites that somebody reads by another right than access that is limited to a period."""
    audited = _audits(user) & ~Q(owner__in=[one.owner_id for one in limited])
    return _owner_roles(user, "owner__") | _serves(user) | audited


def in_period(access: "AuditAccess") -> Q:
    """Of records: that they happened in it."""
    wanted = Q()
    if access.happened_from:
        wanted &= Q(occurred_at__gte=access.happened_from)
    if access.happened_before:
        wanted &= Q(occurred_at__lt=access.happened_before)
    return wanted


def _sites(condition: Q):
    from registry.models import Site

    return Site.objects.filter(condition).values("pk")


def _known_at(when: datetime) -> Q:
    """Recorded by then, not corrected or taken back by then, and no withdrawal itself."""
    counted = Q(superseded_by__isnull=True) | Q(superseded_by__recorded_at__gt=when)
    return Q(recorded_at__lte=when) & counted & ~Q(kind=WITHDRAWN.code)


class RecordQuerySet(ThroughSystemQuerySet):
    def visible_to(self, user: "User"):
        """For an auditor whose access has a period, what happened in it."""
        limited = audits_of_a_period(user)
        if not limited:
            return super().visible_to(user)
        reached = Q(system__site__in=_sites(_read_whole(user, limited)))
        for one in limited:
            sites = _sites(_audits(user) & Q(owner=one.owner_id))
            reached |= Q(system__site__in=sites) & in_period(one)
        return self.filter(reached)

    def for_system(self, system):
        return self.filter(system=system)

    def current(self):
        """The ledger as it now stands: without what was corrected, and without withdrawals."""
        return self.filter(superseded_by__isnull=True).exclude(kind=WITHDRAWN.code)

    def pinholes(self):
        """Leaks of the wall itself: after one of them what comes is the next leak."""
        leaks = [code for code, kind in KINDS.items() if kind.evidence is PipeEvidence.LEAK]
        return self.current().filter(kind__in=leaks, details__form="pinhole")

    def as_of(self, when: datetime):
        """The ledger as the book knew it then: corrections made later are not yet there."""
        return self.filter(_known_at(when))

    def with_known(self, when: datetime):
        """Adds `was_known`: whether the record is one of those that `as_of` leaves."""
        known = ExpressionWrapper(_known_at(when), output_field=BooleanField())
        return self.annotate(was_known=known)

    def in_order(self):
        return self.order_by("occurred_at", "sequence")


def protection_now(system: str):
    """The spans of protection of a row's system, the one that holds first."""
    from registry.models import ProtectionSpan

    return ProtectionSpan.objects.filter(system=OuterRef(system)).order_by("-starts_at")


def protection_of(system: str) -> dict[str, Subquery]:
    """The state of protection, since when, why, where, and what nobody has said of it; `system`
    leads there from a row."""
    spans = protection_now(system)
    return {
        "protection_state": Subquery(spans.values("state")[:1]),
        "protection_since": Subquery(spans.values("state_since")[:1]),
        "protection_reason": Subquery(spans.values("reason")[:1]),
        "protection_areas": Subquery(spans.values("areas")[:1]),
        "protection_is_planned": Subquery(spans.values("is_planned")[:1]),
        "protection_unanswered": Subquery(spans.values("unanswered")[:1]),
    }


def impaired_since(system: str) -> Subquery:
    """Since when protection is out of service; `system` leads there from a row."""
    lasting = Case(When(state="impaired", then=F("state_since")))
    return Subquery(protection_now(system).annotate(since=lasting).values("since")[:1])


class InertingRunQuerySet(ThroughSystemQuerySet):
    def visible_to(self, user: "User"):
        """For an auditor whose access has a period, runs of which each step happened in it."""
        runs = super().visible_to(user)
        if not audits_of_a_period(user):
            return runs
        from registry.models import Record

        of_run = Record.objects.filter(inerting_run=OuterRef("pk"))
        hidden = of_run.exclude(pk__in=Record.objects.visible_to(user).values("pk"))
        return runs.filter(Exists(of_run), ~Exists(hidden))


class SystemQuerySet(AccessQuerySet):
    site_path = "site__"

    def read_in_part_by(self, user: "User"):
        """Those of which the person reads what happened in a period, and no more."""
        limited = audits_of_a_period(user)
        if not limited:
            return self.none()
        whole = _sites(_read_whole(user, limited))
        return self.visible_to(user).exclude(site__in=whole)

    def with_atmosphere(self, now: datetime):
        """Adds the state that holds at `now`, since when, why, and the estimated oxygen."""
        from registry.models import AtmosphereSpan

        spans = AtmosphereSpan.objects.filter(system=OuterRef("pk"), starts_at__lte=now).order_by(
            "-starts_at"
        )
        return self.annotate(
            atmosphere_state=Subquery(spans.values("state")[:1]),
            atmosphere_since=Subquery(spans.values("state_since")[:1]),
            atmosphere_reason=Subquery(spans.values("reason")[:1]),
            atmosphere_oxygen=Subquery(spans.values("oxygen_mid")[:1]),
        )

    def with_impairment(self):
        """Adds since when the system is out of service."""
        return self.annotate(impaired_since=impaired_since("pk"))

    def with_protection(self):
        """Adds the state of protection, since when, why and where."""
        return self.annotate(**protection_of("pk"))

    def with_volume(self):
        """Adds `volume_m3`: as measured, or the sum over the current pipe runs."""
        from registry.models import PipeRun

        bore_mm = F("outside_diameter_mm") - 2.0 * F("wall_mm")
        one = Pi() / 4.0 * Power(bore_mm / 1000.0, 2.0) * F("length_m")
        total = (
            PipeRun.objects.current()
            .filter(system=OuterRef("pk"))
            .order_by()
            .values("system")
            .annotate(total=Sum(one, output_field=FloatField()))
            .values("total")
        )
        return self.annotate(
            volume_m3=Coalesce(
                F("volume_override_m3"), Subquery(total, output_field=FloatField()), Value(0.0)
            )
        )
