"""The risk page, the matrix and the assumptions: what they show is what was assessed."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.corrosion.assumptions import Assumptions, assumptions_table
from registry.corrosion.score import BANDS
from registry.models import Assessment, LastVisit, Record, System
from registry.money import assumed_per_m
from registry.services.assessments import assess_system
from registry.services.desk import set_prices
from registry.templatetags.risk import chance, life, model_number, points, signed
from reports.portfolio.matrix import LEVELS, tint
from reports.portfolio.rows import rows_of
from reports.risk.assumptions import assumption_groups, likelihood_words
from reports.risk.page import RiskPage, run_labels
from tests.factories import make_pipe_run, make_record, make_system
from tests.html import one_line
from tests.kept import Kept
from tests.queries import queries_of

OUTCOME = '<p class="note" role="status">'


@pytest.fixture(scope="module")
def now():
    return timezone.now()


def make_watched(world, now):
    """A wet system in the register for four years, with an event, a reading and a leak."""
    entered = now - timedelta(days=1500)
    system = make_system(world.site, world.owner, now=entered, tag="NQ-101")
    make_pipe_run(system, world.owner, now=entered)
    make_pipe_run(system, world.owner, now=entered, role="branch_line", nominal_size="1-1/4")
    make_record(
        system, "event.head_break", now - timedelta(days=300), world.owner, now=now, count=1
    )
    make_record(
        system, "reading.wall", now - timedelta(days=200), world.owner, now=now,
        wall_mm=2.4, run_role="cross_main", nominal_size="4",
    )  # fmt: skip
    assess_system(system, now)
    return system


WATCHED = Kept(make_watched)


@pytest.fixture
def watched(world, now):
    return WATCHED(world, now)


def address(system, **query) -> str:
    return reverse("reports:risk", args=[system.pk], query=query or None)


def shown(client, person, url) -> str:
    client.force_login(person)
    response = client.get(url)
    assert response.status_code == 200
    return one_line(response).replace("\xa0", " ")


def test_page_and_store_give_the_same_numbers(watched, now):
    stored = Assessment.objects.latest().get(system=watched)
    page = RiskPage(watched, units="si", now=now)
    assert page.row == stored
    for name in ("score", "band", "digest", "leak_in_5_yr", "life_mid_yr", "reasons", "runs"):
        assert page.assessed.values[name] == getattr(stored, name), name


def test_the_page_shows_score_life_reasons_and_costs(client, watched, viewer, now):
    html = shown(client, viewer, address(watched))
    page = RiskPage(watched, units="us", now=now)
    assert points(page.row.score) in html
    assert f"{life(page.row.life_mid_yr)} <span" in html
    assert chance(page.row.leak_in_5_yr).replace("\xa0", " ") in html
    for reason in page.drivers:
        assert reason["text"] in html
    assert [row.record.kind for row in page.events] == ["event.head_break"]
    assert Record.objects.get(kind="event.head_break").get_absolute_url() in html
    assert page.fan.sentence in html and page.belief.sentence in html
    assert "style=" not in html and "<script>" not in html


def test_the_numbers_of_a_picture_stand_beside_it(client, watched, viewer, now):
    html = shown(client, viewer, address(watched))
    page = RiskPage(watched, units="us", now=now)
    for cell in page.fan.rows[-1]:
        assert f">{cell}</t" in html
    assert html.count("<figure") == html.count("<figcaption") == 3


def test_the_fan_is_of_the_run_most_likely_to_leak_or_of_the_one_asked_for(
    client, watched, viewer, now
):
    worst, other = (row.run for row in RiskPage(watched, units="us", now=now).runs)
    assert f"{worst}: at the waterline" in shown(client, viewer, address(watched))
    assert f"{other}: at the waterline" in shown(client, viewer, address(watched, run=other.pk))
    for tampered in ("nonsense", "9" * 30, "9" * 5000):
        assert f"{worst}: at the waterline" in shown(client, viewer, address(watched, run=tampered))


def test_units_follow_the_reader(client, watched, viewer):
    assert "mil" in shown(client, viewer, address(watched))
    viewer.display_units = "si"
    viewer.save()
    html = shown(client, viewer, address(watched))
    assert "µm" in html and "The diamond is a wall reading." in html


def test_measures_can_be_tried_together(client, watched, viewer):
    base = shown(client, viewer, address(watched))
    assert OUTCOME not in base
    run = watched.pipe_runs.get(role="cross_main").pk
    tried = shown(
        client,
        viewer,
        address(watched, is_inerted="on", has_vents="on", new_runs=run, **{"try": 1}),
    )
    assert OUTCOME in tried


def test_more_measures_never_raise_the_score(watched, now):
    from registry.assess.what_if import Measures, outcome

    detail = RiskPage(watched, units="si", now=now).detail
    alone = outcome(detail, Measures(is_inerted=True))
    both = outcome(detail, Measures(is_inerted=True, has_vents=True, new_runs=(0,)))
    assert alone.score_before >= alone.score >= both.score
    assert both.life_yr >= alone.life_yr >= alone.life_before_yr
    assert outcome(detail, Measures()).points == pytest.approx(0.0, abs=1e-9)


def test_open_pipe_is_not_told_to_become_inert(client, world, viewer, now):
    system = make_system(world.site, world.owner, now=now - timedelta(days=900), kind="deluge")
    make_pipe_run(system, world.owner, now=now - timedelta(days=900))
    assess_system(system, now)
    html = shown(client, viewer, address(system))
    assert "Drain and pitch" in html and "holds the air of the place" in html
    for words in ("Make it inert", "until it is inert", "Nitrogen of the make-up", "Expected from"):
        assert words not in html
    assert "Cost of waiting a week" not in shown(client, viewer, system.get_absolute_url())
    assert "open pipe" in shown(client, viewer, reverse("reports:portfolio") + "?columns=delay")


def test_purer_make_up_of_a_dry_system_helps(world, now):
    from registry.assess.what_if import Measures, outcome

    system = make_system(world.site, world.owner, kind="dry", gas_supply="compressor")
    make_pipe_run(system, world.owner)
    detail = RiskPage(system, units="si", now=now).detail
    scores = [
        outcome(detail, Measures(supply_n2_percent=percent)).score for percent in (95, 98, 99.9)
    ]
    assert scores == sorted(scores, reverse=True)


def test_a_wrong_purity_is_refused_and_what_was_typed_stays(client, world, owner, now):
    system = make_system(world.site, world.owner, kind="dry")
    make_pipe_run(system, world.owner)
    html = shown(client, owner, address(system, supply_n2_percent="50", **{"try": 1}))
    assert OUTCOME not in html
    assert 'value="50"' in html and "79.05" in html


def test_a_system_without_pipe_says_why_it_has_no_score(client, world, owner):
    system = make_system(world.site, world.owner)
    assert "no pipe of this system is in the register" in shown(client, owner, address(system))


def test_copper_is_judged_by_field_evidence_alone(client, world, owner, now):
    system = make_system(world.site, world.owner, now=now - timedelta(days=900))
    make_pipe_run(system, world.owner, now=now, material="copper", schedule="L")
    html = shown(client, owner, address(system))
    assert "No score." in html and "field evidence alone" in html
    make_record(
        system, "event.leak", now, world.owner, now=now,
        form="pinhole", through="water", air_entered="no",
    )  # fmt: skip
    html = shown(client, owner, address(system))
    assert "The score stands for 1 leak" in html


def test_looking_stores_nothing(client, watched, viewer):
    Assessment.objects.all().delete()
    shown(client, viewer, address(watched))
    assert not Assessment.objects.exists()


def test_the_system_page_shows_score_and_three_reasons(client, watched, viewer):
    html = shown(client, viewer, watched.get_absolute_url())
    row = Assessment.objects.latest().get(system=watched)
    assert points(row.score) in html and row.band in html
    told = [one["text"] for one in row.reasons if one["code"] != "evidence"]
    assert all(text in html for text in told[:3])
    assert not any(text in html for text in told[3:])
    assert address(watched) in html


def test_the_portfolio_ranks_by_score_unscored_last(client, world, watched, owner, now):
    make_system(world.site, world.owner, tag="A-1")
    worse = make_system(world.site, world.owner, tag="Z-9", kind="dry", gas_supply="compressor")
    make_pipe_run(worse, world.owner, material="galvanized_steel")
    client.force_login(owner)
    response = client.get(reverse("reports:portfolio"))
    tags = [row.tag for row in response.context["desk"].rows]
    assert tags == ["Z-9", "NQ-101", "A-1"]
    up = client.get(reverse("reports:portfolio"), {"sort": "score"})
    assert [row.tag for row in up.context["desk"].rows][-1] == "A-1"


def test_the_portfolio_shows_the_change_since_the_last_visit(client, watched, owner, now):
    assess_system(watched, now - timedelta(days=400))
    assess_system(watched, now)
    row = Assessment.objects.latest().get(system=watched)
    before = watched.assessments.exclude(pk=row.pk).order_by("-as_of", "-pk").first()
    Assessment.objects.filter(pk=before.pk).update(assessed_at=now - timedelta(days=20))
    days = timedelta(days=10)
    seen = {"began_at": now - days, "seen_at": now - days}
    LastVisit.objects.create(user=owner, **seen)
    html = shown(client, owner, reverse("reports:portfolio"))
    assert f"<b>{signed(row.score - before.score)}</b>" in html
    assert "Since your last visit" in html


def test_the_portfolio_filters_by_band(client, watched, owner):
    band = Assessment.objects.latest().get(system=watched).band
    other = next(value for value in Assessment.Band.values if value != band)
    assert "NQ-101" in shown(client, owner, reverse("reports:portfolio") + f"?band={band}")
    html = shown(client, owner, reverse("reports:portfolio") + f"?band={other}")
    assert "No system matches these filters" in html


def test_the_matrix_counts_each_system_once_and_lists_a_chosen_cell(client, watched, owner):
    row = Assessment.objects.latest().get(system=watched)
    client.force_login(owner)
    matrix = client.get(reverse("reports:matrix")).context["matrix"]
    cells = [cell for _, _, cells in matrix.rows for cell in cells]
    assert len(cells) == 25
    assert [(c.likelihood, c.consequence) for c in cells if c.count] == [(row.likelihood, 3)]
    query = {"likelihood": row.likelihood, "consequence": 3}
    assert client.get(reverse("reports:matrix"), query).context["matrix"].listed == [row]
    query["consequence"] = 1
    assert client.get(reverse("reports:matrix"), query).context["matrix"].listed == []
    odd = client.get(reverse("reports:matrix"), {"likelihood": "9", "consequence": "x"})
    assert odd.context["matrix"].chosen is None


def test_the_matrix_is_a_table_whose_counts_lead_to_the_systems_as_no_drawing_would(
    client, watched, owner
):
    row = Assessment.objects.latest().get(system=watched)
    html = shown(client, owner, reverse("reports:matrix"))
    assert f'href="?likelihood={row.likelihood}&amp;consequence=3#listed"' in html
    assert f"likelihood {row.likelihood}, consequence 3, {tint(row.likelihood, 3)}" in html
    assert "<caption" in html and "data-chart" not in html


def test_tints_never_get_paler_with_likelihood_or_consequence():
    order = {"leave": 0, "watch": 1, "plan": 2, "act": 3}
    for level in LEVELS:
        for along in (
            [order[tint(level, other)] for other in LEVELS],
            [order[tint(other, level)] for other in LEVELS],
        ):
            assert along == sorted(along)


@pytest.mark.parametrize("name", ["reports:matrix", "reports:portfolio"])
def test_lists_cost_as_many_queries_for_many_systems_as_for_few(client, world, owner, name):
    client.force_login(owner)
    client.get(reverse(name))  # the first visit is noted
    counts = []
    for _ in range(2):
        for _ in range(3):
            make_pipe_run(make_system(world.site, world.owner), world.owner)
        counts.append(queries_of(client, reverse(name)))
    assert counts[0] == counts[1]
    assert System.objects.count() == 6


def test_the_assumptions_page_holds_every_number_of_the_code(client, viewer):
    html = shown(client, viewer, reverse("reports:assumptions"))
    table = assumptions_table()
    assert {row.key for row in table} >= set(Assumptions.__dataclass_fields__)
    grouped = [row for group in assumption_groups() for row in group.rows]
    assert sorted(row.key for row in grouped) == sorted(row.key for row in table)
    for row in table:
        at = html.index(f'id="{row.key}"')
        line = html[at : html.index("</tr>", at)]
        assert f">{model_number(row.value)}<" in line
        assert f">{row.unit}<" in line


def test_the_page_says_which_numbers_can_be_set(client, viewer):
    html = shown(client, viewer, reverse("reports:assumptions"))
    assert html.count("> yes </td>") == len(Assumptions.__dataclass_fields__)


def test_alike_runs_are_numbered(world):
    system = make_system(world.site, world.owner)
    runs = [make_pipe_run(system, world.owner) for _ in range(2)]
    runs.append(make_pipe_run(system, world.owner, nominal_size="6"))
    alike, other = str(runs[0]), str(runs[2])
    assert list(run_labels(runs).values()) == [f"{alike} (no. 1)", f"{alike} (no. 2)", other]


@pytest.mark.parametrize(
    ("score", "printed"),
    [(0, "0"), (0.04, "<0.1"), (0.1, "0.1"), (18.71, "18.7"), (99.9, "99.9"), (99.96, ">99.9"),
     (100, "100")],
)  # fmt: skip
def test_no_score_prints_as_something_it_is_not(score, printed):
    assert points(score) == printed


def test_measured_points_stand_with_the_arithmetic_of_api_570(client, watched, viewer, now):
    page = RiskPage(watched, units="si", now=now)
    html = shown(client, viewer, address(watched))
    (point,) = page.points
    assert html.count('class="measured-point"') == 1
    years = point.left_um - point.needed_um
    assert point.life_yr == pytest.approx(years / point.governing_um_yr, rel=1e-6)
    assert point.half_life_yr == pytest.approx(point.life_yr / 2)
    assert point.interval_yr == pytest.approx(min(point.half_life_yr, 5.0))
    assert point.left_um <= point.read_um
    for said in (life(point.life_yr), life(point.interval_yr)):
        assert f'{said} <span class="unit">yr</span>' in html
    assert "one survey" in html


def test_each_run_says_what_is_left_and_where_that_is_from(client, watched, viewer, now):
    rows = {row.run.nominal_size: row for row in RiskPage(watched, units="us", now=now).runs}
    assert rows["4"].is_measured and rows["4"].left_mm <= 2.4
    assert not rows["1-1/4"].is_measured
    html = shown(client, viewer, address(watched))
    for row in rows.values():
        at = html.index(row.label, html.index('id="runs"'))
        line = html[at : html.index("</tr>", at)]
        assert ("measured" if row.is_measured else "computed") in line


def test_a_hundred_systems_are_split_as_the_chances_say(client, watched, viewer, now):
    page = RiskPage(watched, units="us", now=now)
    shares = {share.code: share for share in page.shares}
    leaking = sum(share.count for code, share in shares.items() if code != "hold")
    assert leaking == round(100 * page.row.leak_in_5_yr)
    assert leaking + shares["hold"].count == 100
    by = page.leak_in_5_yr_by
    assert shares["oxygen"].count >= shares["other_causes"].count or (
        by["oxygen"] <= by["other_causes"]
    )
    html = shown(client, viewer, address(watched))
    assert html.count('<rect class="one ') == 100
    for code in ("oxygen", "other_causes"):
        assert f"<strong>{shares[code].count}</strong> {shares[code].words}" in html


def test_the_bars_of_the_reasons_lead_to_the_score(client, watched, viewer, now):
    page = RiskPage(watched, units="us", now=now)
    assert sum(bar.points for bar in page.reason_bars) == pytest.approx(page.row.score, abs=0.06)
    assert [bar.text for bar in page.reason_bars] == [reason["text"] for reason in page.drivers]
    ends = [float(bar.x) + float(bar.width) for bar in page.reason_bars]
    assert max(ends) <= 100.5
    html = shown(client, viewer, address(watched))
    assert html.count('<svg class="bar"') == len(page.reason_bars) + len(page.bridge_bars)


def assess_on(system, *days_ago, now):
    for days in days_ago:
        assess_system(system, now - timedelta(days=days))


def test_the_page_says_why_the_score_changed_and_the_steps_add_up(client, watched, viewer, now):
    assess_on(watched, 800, 400, 0, now=now)
    page = RiskPage(watched, units="us", now=now)
    first, second = (
        watched.assessments.get(as_of=(now - timedelta(days=days)).date()) for days in (800, 400)
    )
    assert page.compared == second
    assert {step.code for step in page.bridge} >= {"time", "events", "evidence"}
    assert page.bridge_total == pytest.approx(page.row.score - second.score, abs=1e-2)
    assert abs(page.bridge_total) > 0.5
    html = shown(client, viewer, address(watched))
    assert f"{signed(page.bridge_total)} points since {second.as_of:%-d %B %Y}" in html
    for step in page.bridge:
        at = html.index(step.text, html.index('id="changed"'))
        assert signed(step.points) in html[at : html.index("</tr>", at)]
    asked = RiskPage(watched, units="us", now=now, since=first.as_of)
    assert asked.compared == first
    assert asked.bridge_total == pytest.approx(page.row.score - first.score, abs=1e-2)
    html = shown(client, viewer, address(watched, since=first.as_of.isoformat()))
    assert f"points since {first.as_of:%-d %B %Y}" in html
    for odd in ("1999-13-40", "never", "1900-01-01"):
        assert f"since {second.as_of:%-d %B %Y}" in shown(
            client, viewer, address(watched, since=odd)
        )


def test_another_version_of_the_model_is_a_step_of_its_own(watched, now):
    assess_on(watched, 400, 0, now=now)
    old = RiskPage(watched, units="us", now=now).compared
    watched.assessments.filter(pk=old.pk).update(model_version="1.3", score=old.score + 7.0)
    page = RiskPage(watched, units="us", now=now)
    step = page.bridge[0]
    assert step.code == "model" and "1.3" in step.text
    assert step.points == pytest.approx(-7.0, abs=1e-3)
    assert page.bridge_total == pytest.approx(page.row.score - old.score - 7.0, abs=1e-2)


def test_the_first_assessment_has_nothing_to_be_compared_with(client, watched, viewer, now):
    watched.assessments.exclude(is_latest=True).delete()
    assert RiskPage(watched, units="us", now=now).bridge == ()
    assert "nothing to compare it with" in shown(client, viewer, address(watched))


def test_the_page_says_what_rests_on_the_share_of_other_causes(client, watched, viewer, now):
    page = RiskPage(watched, units="us", now=now)
    (low, score_low), (high, score_high) = page.detail.by_active_share
    assert low < 0.2 < high and score_low < page.row.score < score_high
    html = shown(client, viewer, address(watched))
    assert f"the score would be {points(score_low)}, with" in html
    assert page.other_causes_words.replace("\xa0", " ") in html


def test_a_reading_that_contradicts_the_model_is_named_with_what_to_do(
    client, watched, viewer, world, now
):
    assert "contradicts the model" not in shown(client, viewer, address(watched))
    make_record(
        watched, "reading.wall", now - timedelta(days=2), world.owner, now=now, wall_mm=0.4,
        run_role="branch_line", nominal_size="1-1/4", method="full_scan", error_mm=0.05,
        dressed="yes",
    )  # fmt: skip
    page = RiskPage(watched, units="us", now=now)
    (point,) = page.contradictions
    html = shown(client, viewer, address(watched))
    assert "1 wall reading contradicts the model" in html
    assert point.contradicts in html and "scan around it" in point.contradicts


def test_standing_pipe_has_no_clock_positions_and_lying_pipe_has(world, now):
    system = make_system(world.site, world.owner, now=now - timedelta(days=900))
    for role in ("riser", "cross_main"):
        make_pipe_run(system, world.owner, now=now - timedelta(days=900), role=role)
    said = {point["label"]: point for point in RiskPage(system, units="us", now=now).wall_points}
    assert [bool(point["clock"]) for _, point in sorted(said.items())] == [True, False]


def test_every_place_to_measure_says_what_a_scan_is_worth(client, watched, viewer, now):
    html = shown(client, viewer, address(watched))
    at = html.index('id="look"')
    look = html[at : html.index("</section>", at)]
    places = RiskPage(watched, units="us", now=now).wall_points
    worth = [point["worth"] for point in places]
    assert worth == sorted(worth, reverse=True)
    telling = sum(value >= 0.005 for value in worth)
    assert look.count("is expected to be worth") == telling
    assert look.count("would stay the same") == len(places) - telling


def test_after_a_leak_page_and_portfolio_speak_of_the_next(client, watched, viewer, world, now):
    assert "Next leak" not in shown(client, viewer, address(watched))
    leak = {"through": "water", "air_entered": "no", "form": "pinhole", "run_role": "branch_line"}
    make_record(watched, "event.leak", now - timedelta(days=9), world.owner, now=now, **leak)
    for url in (address(watched), watched.get_absolute_url()):
        html = shown(client, viewer, url)
        assert "Next leak within five years" in html and "First leak" not in html
    html = shown(client, viewer, reverse("reports:portfolio") + "?columns=life")
    assert "to the next leak" in html and "first leak" not in html


def test_likelihood_has_words_of_its_own_that_are_none_of_the_score():
    said = [words.partition(", ")[0] for words in likelihood_words().values()]
    assert said == ["rare", "seldom", "possible", "likely", "near"]
    assert not set(said) & set(BANDS)
    assert likelihood_words()[1] == "rare, below 0.1 %"
    assert likelihood_words()[5] == "near, 20 % and above"


def test_a_measure_that_can_be_ordered_ends_in_its_order_and_comes_back_here(client, world, now):
    entered = now - timedelta(days=400)
    system = make_system(world.site, world.owner, now=entered, tag="NQ-150")
    make_pipe_run(system, world.owner, now=entered)
    assess_system(system, now)
    here = address(system)
    page = shown(client, world.owner, here)
    order = reverse("scheduling:order-inerting", args=[system.pk], query={"back": here})
    assert page.count(order.replace("&", "&amp;")) == 2  # at the head, and at its measure
    assert "Order it" in page and "1,500*" in page  # the price of a visit, assumed
    form = client.get(order).content.decode()
    assert "Order inerting of NQ-150" in form
    sent = client.post(order, {"back": here})
    assert sent.status_code == 302 and sent["Location"] == here
    page = shown(client, world.owner, here)
    assert "Order it" not in page and "It is ordered already" in page


def test_nobody_is_offered_an_order_that_is_not_theirs_to_give(client, world, watched):
    page = shown(client, world.viewer, address(watched))
    assert "Order it" not in page and "What would help" in page


def test_replacing_a_run_is_priced_by_its_length_and_size(client, world, watched):
    set_prices(owner=world.owner_organisation, currency="$", replacement_per_m={"4": 100.0})
    page = RiskPage(watched, units="si", now=timezone.now())
    main = next(row.run for row in page.runs if row.run.nominal_size == "4")
    branch = next(row.run for row in page.runs if row.run.nominal_size == "1-1/4")
    text = shown(client, world.owner, address(watched))
    assert f'data-label="Replacing it">${100 * main.length_m:,.0f}</td>' in text
    assumed = assumed_per_m("1-1/4") * branch.length_m
    assert f'data-label="Replacing it">${assumed:,.0f}*</td>' in text
    listed = rows_of([watched.pk], world.owner, timezone.now(), since=None, columns={"replacing"})[
        0
    ]
    assert listed.replacing.value == pytest.approx(100 * main.length_m + assumed)
    assert listed.replacing.is_assumed
