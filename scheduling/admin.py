from django.contrib import admin

from scheduling.models import FeedToken, RuleRun, Task


class ReadOnlyAdmin(admin.ModelAdmin):
    """To look at: rules and services write, not people."""

    def has_add_permission(self, request):
        return False

    def has_change_permission(self, request, obj=None):
        return False

    def has_delete_permission(self, request, obj=None):
        return False


@admin.register(Task)
class TaskAdmin(ReadOnlyAdmin):
    list_display = ["title", "system", "assigned_to", "due_at", "status"]
    list_filter = ["status", "rule"]
    list_select_related = ["system", "assigned_to"]
    search_fields = ["system__tag", "system__site__name"]


@admin.register(RuleRun)
class RuleRunAdmin(ReadOnlyAdmin):
    list_display = ["record", "done_at", "attempts", "error"]
    list_filter = [("done_at", admin.EmptyFieldListFilter)]
    list_select_related = ["record"]


@admin.register(FeedToken)
class FeedTokenAdmin(ReadOnlyAdmin):
    list_display = ["label", "user", "scope", "created_at", "revoked_at", "last_fetched_at"]
    exclude = ["digest"]
