"""What the tests of the pages of a run do at them, as a browser would."""

from uuid import uuid4

from django.urls import reverse

from registry.models import Record


def plan_url(system):
    return reverse("registry:run-plan", args=[system.pk])


def start(client, system, **answers):
    """Start a run as the plan page's own form does: with the answers it shows."""
    page = client.get(plan_url(system), answers)
    carried = dict(page.context["form"].carried)
    key = answers.pop("client_key", page.context["client_key"])
    leave = {"leave": answers.get("leave", "yes")}
    return client.post(plan_url(system), carried | leave | {"client_key": key})


def step_url(run):
    return reverse("registry:run-step", args=[run.pk])


def answer(client, run, token, key=None, **answers):
    return client.post(step_url(run), {"token": token, "client_key": key or uuid4(), **answers})


def asked(client, run) -> str:
    """The step that the page asks for."""
    return client.get(run.get_absolute_url()).context["form"].step.token


def do(client, run, *steps):
    """Log “fill 92.9” as filled and read, “purge” as it says; the analyser is not checked."""
    if asked(client, run) == "checked":
        assert answer(client, run, "checked", unchecked="1").status_code == 302
    for step in steps:
        token = asked(client, run)
        words = {"pressure_gauge_pa": "0 psi"} if step == "purge" else {"pressure_gauge_pa": "30"}
        assert answer(client, run, token, **words).status_code == 302
        if step != "purge":
            fill = token.split("-")[1]
            response = answer(client, run, f"read-{fill}", n2_percent=str(step), where="Far vent")
            assert response.status_code == 302


def kinds(run):
    rows = Record.objects.filter(inerting_run=run).order_by("sequence")
    return [row.kind.removeprefix("inerting.") for row in rows]
