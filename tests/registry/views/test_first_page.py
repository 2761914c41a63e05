"""Where people begin after they have signed in."""

import pytest
from django.urls import reverse

URL = reverse("account_login")
PORTFOLIO, WORK = reverse("reports:portfolio"), reverse("scheduling:work")


def begin(client, person, **query):
    person.set_password("a long enough one")
    person.save()
    answers = {"login": person.email, "password": "a long enough one"}
    return client.post(URL, answers, query_params=query)


@pytest.mark.parametrize("query", [{}, {"next": "/"}])
def test_a_contractor_begins_at_the_work_and_an_owner_at_the_portfolio(
    client, owner, technician, query
):
    assert begin(client, technician, **query).url == WORK
    client.logout()
    assert begin(client, owner, **query).url == PORTFOLIO


def test_a_page_that_was_asked_for_comes_before_the_usual_one(client, technician):
    assert begin(client, technician, next="/feeds/").url == "/feeds/"
