"""For the keeper of the installation: people, organisations and who may read what.

The ledger and what is derived from it are shown here and cannot be changed here.
"""

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.db import transaction
from django.utils import timezone

from registry import models
from registry.services.access import begin_everywhere, note_everybody
from registry.services.owner_ledger import note_everywhere
from registry.services.register.policies import policy_changed


class NotedAdmin(admin.ModelAdmin):
    """What is changed here stands in the ledgers and the logs of access of whom it touches."""

    def changeform_view(self, request, *args, **kwargs):
        return self._noted(super().changeform_view, request, *args, **kwargs)

    def delete_view(self, request, *args, **kwargs):
        return self._noted(super().delete_view, request, *args, **kwargs)

    def changelist_view(self, request, *args, **kwargs):
        return self._noted(super().changelist_view, request, *args, **kwargs)

    def _noted(self, view, request, *args, **kwargs):
        if request.method != "POST":
            return view(request, *args, **kwargs)
        now = timezone.now()
        with transaction.atomic():
            begin_everywhere(now)
            response = view(request, *args, **kwargs)
            note_everywhere(by=request.user, now=now)
            note_everybody(by=request.user, now=now)
        return response


@admin.register(models.User)
class PersonAdmin(NotedAdmin, UserAdmin):
    ordering = ["email"]
    list_display = ["email", "name", "is_active", "is_staff"]
    search_fields = ["email", "name"]
    fieldsets = [
        (None, {"fields": ["email", "name", "password", "display_units"]}),
        ("Rights", {"fields": ["is_active", "is_staff", "is_superuser"]}),
    ]
    add_fieldsets = [(None, {"fields": ["email", "name", "password1", "password2"]})]
    filter_horizontal = []


class MembershipInline(admin.TabularInline):
    model = models.Membership
    extra = 1
    autocomplete_fields = ["user"]


@admin.register(models.Organisation)
class OrganisationAdmin(NotedAdmin):
    list_display = ["name", "kind"]
    list_filter = ["kind"]
    search_fields = ["name"]
    inlines = [MembershipInline]


@admin.register(models.AuditAccess)
class AuditAccessAdmin(NotedAdmin):
    list_display = ["owner", "auditor", "ends_on", "has_all_sites"]


@admin.register(models.OwnerPolicy)
class OwnerPolicyAdmin(NotedAdmin):
    list_display = ["owner", "target_n2_percent", "order_within_days", "confirm_within_days"]

    def save_model(self, request, obj, form, change) -> None:
        super().save_model(request, obj, form, change)
        policy_changed(obj.owner, now=timezone.now())


class ReadOnlyAdmin(admin.ModelAdmin):
    def has_add_permission(self, request, obj=None) -> bool:
        return False

    def has_change_permission(self, request, obj=None) -> bool:
        return False

    def has_delete_permission(self, request, obj=None) -> bool:
        return False


@admin.register(models.Record)
class RecordAdmin(ReadOnlyAdmin):
    list_display = ["system", "sequence", "kind", "occurred_at", "recorded_by"]
    list_filter = ["kind"]
    list_select_related = ["system", "recorded_by"]


@admin.register(models.System)
class SystemAdmin(ReadOnlyAdmin):
    list_display = ["tag", "site", "kind", "gas_supply"]
    list_filter = ["kind"]
    list_select_related = ["site"]
