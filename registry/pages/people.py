"""What the page of an organisation's people shows."""

from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property

from allauth.mfa.models import Authenticator
from django.db.models import Exists, OuterRef, Q

from registry.models import AuditAccess, Invitation, Membership, Organisation, ServiceContract, User
from registry.services.access.inviting import kinds_for
from registry.services.access.members import other_managers
from registry.signing_in.demand import STEPS


@dataclass(frozen=True)
class SecondSteps:
    """Who of an organisation has an authenticator app or a passkey."""

    organisation: Organisation
    user: User

    @cached_property
    def lacking(self) -> list[User]:
        """Who can sign in and would be led to set one up."""
        people = User.objects.filter(memberships__organisation=self.organisation, is_active=True)
        return list(people.filter(_lacks_step()).order_by("name", "pk"))

    @cached_property
    def count(self) -> int:
        return self.organisation.memberships.filter(user__is_active=True).count()

    @property
    def is_own_lacking(self) -> bool:
        return self.user in self.lacking

    @cached_property
    def is_only_manager(self) -> bool:
        mine = self.organisation.memberships.filter(user=self.user).first()
        return mine is not None and not other_managers(mine).exists()


def _lacks_step() -> Q:
    has = Authenticator.objects.filter(user=OuterRef("pk"), type__in=STEPS)
    return ~Q(Exists(has))


@dataclass(frozen=True)
class PeoplePage:
    organisation: Organisation
    user: User
    now: datetime

    @property
    def is_owner(self) -> bool:
        return self.organisation.kind == Organisation.Kind.OWNER

    @property
    def is_contractor(self) -> bool:
        return self.organisation.kind == Organisation.Kind.CONTRACTOR

    @property
    def is_auditor(self) -> bool:
        return self.organisation.kind == Organisation.Kind.AUDITOR

    @property
    def kinds(self) -> list[Invitation.Kind]:
        return list(kinds_for(self.organisation))

    @cached_property
    def members(self) -> list[Membership]:
        rows = self.organisation.memberships.select_related("user")
        return list(rows.order_by("user__name", "pk"))

    @cached_property
    def invitations(self) -> list[Invitation]:
        rows = self.organisation.invitations.select_related("invited_by").prefetch_related("sites")
        return list(rows.pending())

    @property
    def expired(self) -> set[int]:
        return {row.pk for row in self.invitations if row.has_expired(self.now)}

    @cached_property
    def contracts(self) -> list[ServiceContract]:
        """Those at the owner's sites, or those of the contractor."""
        own = {"site__owner": self.organisation}
        if self.is_contractor:
            own = {"contractor": self.organisation}
        rows = ServiceContract.objects.filter(**own).select_related("site__owner", "contractor")
        return list(rows.order_by("site__name", "-starts_on"))

    @property
    def contracts_to_come(self) -> set[int]:
        return {row.pk for row in self.contracts if row.starts_on > self._today_at(row)}

    @property
    def contracts_over(self) -> set[int]:
        return {
            row.pk for row in self.contracts if row.ends_on and row.ends_on < self._today_at(row)
        }

    def _today_at(self, row: ServiceContract) -> date:
        return self.now.astimezone(row.site.zone).date()

    @cached_property
    def audits(self) -> list[AuditAccess]:
        own = {"auditor": self.organisation} if self.is_auditor else {"owner": self.organisation}
        rows = AuditAccess.objects.filter(**own).select_related("owner", "auditor")
        return list(rows.prefetch_related("sites").order_by("auditor__name", "owner__name"))

    @property
    def audits_over(self) -> set[int]:
        today = self.now.date()
        return {row.pk for row in self.audits if row.ends_on and row.ends_on < today}

    @cached_property
    def accepted_without_contract(self) -> list[Organisation]:
        """Contractors that came by invitation and serve no site of the owner yet."""
        if not self.is_owner:
            return []
        serving = {row.contractor_id for row in self.contracts}
        accepted = Organisation.objects.filter(
            kind=Organisation.Kind.CONTRACTOR, accepted_invitations__organisation=self.organisation
        )
        return [one for one in accepted.distinct() if one.pk not in serving]
