"""An owner's rules: what each does, whether it is on, its days; and who hears of what is late."""

from functools import partial

from django.contrib import messages
from django.forms import formset_factory
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from registry.access import get_managed_owner, get_owner, manages, visible_owners
from registry.forms.units_and_errors import attempt, show_problems
from registry.kinds import DetailsError
from registry.models import OwnerPolicy
from registry.pages.acceptance import demand_words
from registry.services.runs import demands_by
from scheduling import services
from scheduling.follow_ups.escalation_levels import levels_of
from scheduling.follow_ups.tuning import rule_rows
from scheduling.forms.orders import LevelForm
from scheduling.forms.rules import AcceptanceForm, rule_form
from scheduling.services.accepting import set_acceptance

MOST_LEVELS = 4
LevelFormSet = formset_factory(
    LevelForm,
    extra=1,
    max_num=MOST_LEVELS,
    validate_max=True,
    can_delete=True,
    can_delete_extra=False,
)


def rules(request):
    owners = visible_owners(request.user)
    if len(owners) == 1:
        return redirect("scheduling:rules-owner", owners[0].pk)
    return render(request, "scheduling/rules_owners.html", {"owners": owners})


def rules_owner(request, pk):
    owner = get_owner(request.user, pk)
    policy = OwnerPolicy.for_owner(owner)
    demands = demands_by(policy, policy.target_n2_percent)
    context = {
        "target_n2_percent": policy.target_n2_percent,
        "asked": list(demand_words(demands, request.user.display_units)),
        "owner": owner,
        "rows": rule_rows(owner),
        "levels": levels_of(owner),
        "may_manage": manages(request.user, owner),
    }
    return render(request, "scheduling/rules.html", context)


def rule_edit(request, pk, rule):
    owner = get_managed_owner(request.user, pk)
    row = next((row for row in rule_rows(owner) if row.rule.code == rule), None)
    if row is None:
        raise Http404(gettext("There is no such rule."))
    form = rule_form(request.POST or None, row)
    if form.is_valid():
        left = attempt(
            form, _service_for(row.rule),
            owner=owner, changed_by=request.user, now=timezone.now(), **form.cleaned_data,
        )  # fmt: skip
        if form.is_valid():
            messages.success(request, _saved(left))
            return redirect("scheduling:rules-owner", owner.pk)
    return render(request, "scheduling/rule_form.html", {"owner": owner, "row": row, "form": form})


def rules_acceptance(request, pk):
    owner = get_managed_owner(request.user, pk)
    policy = OwnerPolicy.for_owner(owner)
    form = AcceptanceForm(request.POST or None, policy=policy, user=request.user)
    if form.is_valid() and attempt(
        form, set_acceptance,
        owner=owner, changed_by=request.user, now=timezone.now(), **form.cleaned_data,
    ):  # fmt: skip
        messages.success(request, gettext("Saved. It holds for runs that begin from now on."))
        return redirect("scheduling:rules-owner", owner.pk)
    context = {"owner": owner, "form": form, "target_n2_percent": policy.target_n2_percent}
    return render(request, "scheduling/rules_acceptance.html", context)


def _service_for(rule):
    if rule.is_by_policy_days:
        return services.set_confirmation
    return partial(services.set_rule, rule=rule)


def rule_levels(request, pk):
    owner = get_managed_owner(request.user, pk)
    first = [
        {"after_days": level.after_days, "told": level.told, "person": level.person_id}
        for level in levels_of(owner)
    ]
    formset = LevelFormSet(
        request.POST or None, initial=first, form_kwargs={"owner": owner}, prefix="level"
    )
    if formset.is_valid() and _set_levels(owner, formset, request.user):
        messages.success(request, gettext("Saved. It holds for what is late from now on."))
        return redirect("scheduling:rules-owner", owner.pk)
    return render(request, "scheduling/rule_levels.html", {"owner": owner, "formset": formset})


def _set_levels(owner, formset, person) -> bool:
    given = [form for form in formset if form in formset.initial_forms or form.has_changed()]
    kept = [form for form in given if not form.cleaned_data.get("DELETE")]
    names = ("after_days", "told", "person")
    levels = [{name: form.cleaned_data[name] for name in names} for form in kept]
    try:
        services.set_levels(owner=owner, levels=levels, changed_by=person)
    except DetailsError as error:
        show_problems(formset[0], error.problems)
        return False
    return True


def _saved(left: int) -> str:
    if not left:
        return gettext("Saved; open follow-ups are in line with it.")
    return gettext(
        "Saved. {left} systems are still to be brought in line; the next sweep does it."
    ).format(left=left)
