"""Beside the steps of a run without a connection: its stop is kept; what needs the book says so."""

import pytest
from django.urls import reverse

from registry.models import Record
from tests.browser.test_run_offline import (  # noqa: F401
    ON_THE_SHELF,
    heading,
    is_sent,
    kept,
    kinds,
    log,
    phone,
    run,
    until,
    wait_for_the_shelf,
)
from tests.factories import PSI

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def ready_to_stop(page, run):  # noqa: F811
    wait_for_the_shelf(page, run)
    stop = reverse("registry:run-stop", args=[run.pk])
    until(page, lambda: page.evaluate(ON_THE_SHELF, stop))


def test_a_run_is_stopped_without_a_connection_after_the_steps_before_it(phone, run):  # noqa: F811
    ready_to_stop(phone, run)
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Pressure reached").click()
    heading(phone, "Fill 1: what does the vent read")
    phone.get_by_role("link", name="Stop the run here").click()
    phone.get_by_text("No connection. This page is as the book was at").wait_for()
    phone.get_by_label("Why does the run stop?").fill("Rain")
    phone.get_by_label("How is the system left?").fill("At 30 psi")
    phone.get_by_role("button", name="Stop the run").click()
    phone.get_by_text("Kept on this phone, not yet in the book.").wait_for()
    phone.get_by_role("link", name="Go on").click()
    heading(phone, "The stop is kept on this phone, and not yet in the book")
    assert kinds(run) == ["started"]
    phone.context.set_offline(False)
    is_sent(phone)
    heading(phone, "The run was stopped")
    assert kinds(run) == ["started", "filled", "stopped"]
    rows = list(Record.objects.filter(inerting_run=run).order_by("sequence"))
    assert [row.occurred_at for row in rows] == sorted(row.occurred_at for row in rows)


def test_a_stop_of_a_run_that_had_ended_is_not_called_signed_out(phone, run, technician):  # noqa: F811
    from django.utils import timezone

    from registry.services.runs import stop_run

    ready_to_stop(phone, run)
    phone.goto(reverse("registry:run-stop", args=[run.pk]))
    stop_run(
        run=run, reason="Rain", left_as="Wet", recorded_by=technician, occurred_at=timezone.now()
    )
    phone.get_by_label("Why does the run stop?").fill("Storm")
    phone.get_by_label("How is the system left?").fill("At 30 psi")
    phone.get_by_role("button", name="Stop the run").click()
    phone.locator("main").get_by_text("The book wrote nothing of this").wait_for()
    assert "signed out" not in phone.locator("body").inner_text()
    assert kinds(run) == ["started", "stopped"]


def test_a_correction_says_before_typing_that_it_needs_a_connection(phone, run, technician):  # noqa: F811
    log(run, technician, "filled-1", pressure_gauge_pa=30 * PSI)
    phone.reload()
    phone.context.set_offline(True)
    phone.get_by_role("link", name="Correct").click()
    phone.get_by_text("This needs a connection, and there is none").wait_for()
    heading(phone, "Fill 1: what does the vent read")
    phone.context.set_offline(False)
    phone.get_by_role("link", name="Correct").click()
    heading(phone, "Correct: ")
    phone.context.set_offline(True)
    phone.get_by_text("Nothing that you type here is kept on this phone").wait_for()
    phone.get_by_role("button", name="Save the correction").click()
    heading(phone, "Correct: ")  # still this page, with what was typed
    phone.context.set_offline(False)
    phone.get_by_text("Nothing that you type here is kept on this phone").wait_for(state="hidden")
    phone.get_by_role("button", name="Save the correction").click()
    heading(phone, "Fill 1: what does the vent read")
    assert kept(phone) == 0
