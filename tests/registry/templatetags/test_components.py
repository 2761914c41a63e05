"""Every shared component rendered once: ids are unique, controls are named, links land."""

from collections import Counter
from datetime import UTC, datetime
from html.parser import HTMLParser
from types import SimpleNamespace

import django_tables2 as tables
import pytest
from django import forms
from django.contrib.messages import constants
from django.contrib.messages.storage.base import Message
from django.template import Context, Template
from django.test import RequestFactory
from django_tables2 import RequestConfig

from registry.fields import QuantityField
from registry.strip import Mark
from registry.templatetags.components import first_id, layout

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
ANSWERS = [("yes", "Yes"), ("no", "No"), ("unknown", "Not known")]


class EveryField(forms.Form):
    pressure = QuantityField(dimension="pressure", label="Fill pressure", help_text="At the gauge.")
    where = forms.CharField(label="Where", required=False)
    connected = forms.ChoiceField(label="Connected?", choices=ANSWERS, widget=forms.RadioSelect)
    kind = forms.ChoiceField(label="Kind", choices=ANSWERS)
    told = forms.BooleanField(label="The monitoring company knows", help_text="Tell them again.")
    note = forms.CharField(label="Note", widget=forms.Textarea, required=False)
    key = forms.CharField(widget=forms.HiddenInput, required=False)


class SystemTable(tables.Table):
    tag = tables.Column(verbose_name="System")
    volume = tables.Column(attrs={"td": {"class": "number"}, "th": {"class": "number"}})

    class Meta:
        attrs = {"class": "stacks"}
        empty_text = "No system matches."


class Page(HTMLParser):
    """The tags of a page, with their attributes; refuses tags that do not pair."""

    VOID = {"meta", "link", "input", "br", "img", "hr"}

    def __init__(self, html: str):
        super().__init__()
        self.tags: list[tuple[str, dict]] = []
        self.open: list[str] = []
        self.feed(html)
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def ids(self) -> list[str]:
        return [attrs["id"] for _, attrs in self.tags if "id" in attrs]

    def values(self, tag: str, name: str) -> list[str]:
        return [attrs[name] for found, attrs in self.tags if found == tag and name in attrs]


def render(source: str, query: str = "", **context) -> str:
    request = RequestFactory().get(f"/{query}")
    body = "{% load components strip django_tables2 %}" + source
    return Template(body).render(Context({"request": request, **context}))


def filled(**answers) -> EveryField:
    form = EveryField(answers)
    form.is_valid()
    return form


def small_table(rows: int, query: str = "") -> tuple[SystemTable, str]:
    table = SystemTable([{"tag": f"NQ-{n}", "volume": n} for n in range(rows)])
    RequestConfig(RequestFactory().get(f"/{query}"), paginate={"per_page": 2}).configure(table)
    return table, query


@pytest.fixture(scope="module")
def everything() -> Page:
    span = SimpleNamespace(starts_at=datetime(2025, 1, 1, tzinfo=UTC), state="inert", reason="")
    source = """{% include "registry/_messages.html" %}{% include "registry/_form.html" %}
        {% render_table table %}{% cautions "draining" "nitrogen" %}{% cautions "cpvc" %}
        {% include "registry/_nothing.html" with words="Nothing." next="/" next_words="Go" %}
        {% strip spans now=now %}{% strip spans marks=marks size="page" now=now %}
        {% strip spans size="thumbnail" now=now %}{% state "in_doubt" %}"""
    html = render(
        source,
        form=filled(pressure="30 wombats"),
        table=small_table(3)[0],
        messages=[Message(constants.SUCCESS, "Saved.")],
        spans=[span],
        marks=[Mark(NOW, "event.leak", "1 June 2026: Leak")],
        now=NOW,
    )
    return Page(html)


def test_no_id_is_used_twice(everything):
    assert [name for name, times in Counter(everything.ids()).items() if times > 1] == []


def test_every_control_has_a_label_of_its_own(everything):
    targets = everything.values("label", "for")
    for tag, attrs in everything.tags:
        is_button = attrs.get("type") in ("hidden", "submit")
        if tag in ("select", "textarea") or (tag == "input" and not is_button):
            assert attrs["id"] in targets or attrs["type"] == "checkbox", attrs["name"]


def test_every_description_and_every_link_of_the_summary_lands_on_something(everything):
    ids = set(everything.ids())
    wanted = [
        name
        for _, attrs in everything.tags
        for key in ("aria-describedby", "aria-labelledby")
        for name in (attrs.get(key) or "").split()
    ]
    links = [href[1:] for href in everything.values("a", "href") if href.startswith("#")]
    assert wanted and links
    assert set(wanted) | set(links) <= ids


def test_an_error_stands_in_the_summary_and_beside_its_field_and_keeps_what_was_typed():
    form = filled(pressure="30 wombats", connected="yes", kind="yes", told="on")
    html = render('{% include "registry/_form.html" %}', form=form)
    assert "1&nbsp;entry to correct" in html
    assert html.count("wombats") >= 2 and 'value="30 wombats"' in html
    assert html.count(form.errors["pressure"][0].split("“")[0][:12]) >= 2


def test_a_quantity_shows_its_unit_and_what_was_understood():
    html = render('{% include "registry/_form.html" %}', form=filled(pressure="30 psi"))
    assert '<span class="unit" aria-hidden="true">psi' in html
    assert "= 2.07 bar" in html


def test_the_first_control_of_a_group_is_where_its_error_leads():
    form = EveryField()
    assert first_id(form["connected"]) == "id_connected_0"
    assert first_id(form["where"]) == "id_where"


def test_short_answers_stand_side_by_side_and_long_ones_below_each_other():
    form = EveryField()
    assert layout(form["connected"]) == "choices short"
    form.fields["connected"].widget.choices = [("a", "Through an auxiliary drain")]
    assert layout(form["connected"]) == "choices"
    assert [layout(form[name]) for name in ("told", "where")] == ["tick", "line"]


def test_a_table_sorts_by_link_and_says_how_it_is_sorted():
    table, query = small_table(3, "?sort=-volume&page=2")
    html = render("{% render_table table %}", query, table=table)
    assert 'aria-sort="descending"' in html and "sorted downwards" in html
    assert 'href="?sort=tag"' in html, "a new order starts at the first page"


def test_a_table_of_many_pages_says_which_rows_are_shown():
    table, query = small_table(3)
    html = render("{% render_table table %}", query, table=table)
    assert "Rows 1 to 2 of 3" in html and "Next page" in html and "Previous page" not in html


def test_the_first_column_names_the_row():
    html = render("{% render_table table %}", table=small_table(1)[0])
    assert '<th scope="row"' in html and 'data-label="Volume"' in html


def test_an_empty_table_says_why_it_is_empty():
    html = render("{% render_table table %}", table=small_table(0)[0])
    assert "No system matches." in html and "<table" not in html


def test_a_state_that_was_never_derived_is_not_called_anything():
    assert "Not derived yet" in render('{% state "" %}')


@pytest.mark.parametrize("name", ["400", "403", "404", "403_csrf", "500"])
def test_an_error_page_says_what_to_do_and_needs_nothing_to_be_drawn(name):
    from django.template.loader import render_to_string

    page = render_to_string(f"{name}.html", {})
    assert "<h1>" in page and 'lang="en"' in page
    Page(page)


def test_the_page_has_one_main_part_and_a_way_past_the_navigation():
    page = Page(render('{% include "base.html" %}', user=SimpleNamespace(is_authenticated=False)))
    assert [tag for tag, _ in page.tags].count("main") == 1
    assert "#content" in page.values("a", "href")
