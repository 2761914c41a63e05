"""Due days and judgements worked out by hand, and what must hold for any rule and history."""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from scheduling.recurrence import (
    Anchor,
    Done,
    Interval,
    MonthDay,
    Outcome,
    PlannedSlot,
    Recurrence,
    Stage,
    Timing,
    judge,
    next_slot,
    parse_interval,
    plan,
    seasonal,
    slots_ahead,
    standing,
)

FIRST = date(2026, 3, 31)


def rule(interval="3 months", anchor=Anchor.COMPLETION, before="1 month", after="0 days", **more):
    return Recurrence(
        interval=parse_interval(interval),
        first_due=more.pop("first_due", FIRST),
        anchor=anchor,
        before=parse_interval(before),
        after=parse_interval(after),
        **more,
    )


def done(*days):
    return [Done(day) for day in days]


def skipped(on, due_on):
    return Done(on, Outcome.SKIPPED, due_on)


def timings(planned):
    return [(settled.timing, settled.days) for settled in planned.settled]


@given(
    first=st.dates(date(2000, 1, 1), date(2040, 1, 1)),
    months=st.integers(1, 60),
    occurrences=st.integers(1, 20),
)
def test_a_fixed_calendar_agrees_with_dateutil(first, months, occurrences):
    calendar = Recurrence(Interval(months, "month"), first, Anchor.CALENDAR)
    until = first + relativedelta(months=months * occurrences)
    ahead = slots_ahead(calendar, [], today=first, until=until)
    assert [slot.due_on for slot in ahead] == [
        first + relativedelta(months=months * number) for number in range(occurrences + 1)
    ]


@given(gaps=st.lists(st.integers(0, 400), max_size=8), years=st.integers(1, 10))
def test_from_completion_the_last_completion_alone_decides(gaps, years):
    days = [FIRST + timedelta(days=sum(gaps[: count + 1])) for count in range(len(gaps))]
    expected = days[-1] + relativedelta(years=years) if days else FIRST
    assert next_slot(rule(f"{years} years"), done(*days)).due_on == expected


@given(days=st.lists(st.dates(date(2026, 1, 1), date(2030, 1, 1)), max_size=10))
def test_the_order_in_which_work_is_entered_does_not_matter(days):
    for anchor in Anchor:
        assert plan(rule(anchor=anchor), done(*days)) == plan(
            rule(anchor=anchor), done(*reversed(days))
        )


@given(
    days=st.lists(st.dates(date(2026, 1, 1), date(2030, 1, 1)), max_size=10),
    after=st.sampled_from(["0 days", "1 week", "1 month"]),
)
def test_on_a_fixed_calendar_every_completion_settles_one_slot_or_is_extra(days, after):
    planned = plan(rule(anchor=Anchor.CALENDAR, after=after), done(*days))
    worked = [settled for settled in planned.settled if settled.timing is not Timing.MISSED]
    assert len(worked) + len(planned.extra) == len(days)
    due_days = [settled.slot.due_on for settled in planned.settled] + [planned.open.due_on]
    assert due_days == [FIRST + relativedelta(months=3 * n) for n in range(len(due_days))]


def test_the_window_opens_before_the_due_day_and_closes_after_it():
    slot = next_slot(rule(after="2 weeks"))
    assert slot == PlannedSlot(date(2026, 3, 31), date(2026, 2, 28), date(2026, 4, 14))


@pytest.mark.parametrize(
    ("day", "timing", "days"),
    [
        (date(2026, 2, 18), Timing.EARLY, 10),
        (date(2026, 2, 27), Timing.EARLY, 1),
        (date(2026, 2, 28), Timing.ON_TIME, 0),
        (date(2026, 3, 31), Timing.ON_TIME, 0),
        (date(2026, 4, 7), Timing.ON_TIME, 0),
        (date(2026, 4, 8), Timing.LATE, 1),
        (date(2027, 4, 7), Timing.LATE, 365),
    ],
)
def test_work_is_judged_by_the_days_of_its_window(day, timing, days):
    judged = judge(next_slot(rule(after="1 week")), day)
    assert (judged.timing, judged.days, judged.done_on) == (timing, days, day)


@pytest.mark.parametrize(
    ("day", "stage", "days"),
    [
        (date(2026, 2, 27), Stage.AHEAD, 1),
        (date(2026, 3, 31), Stage.OPEN, 7),
        (date(2026, 4, 1), Stage.TOLERATED, 6),
        (date(2026, 4, 7), Stage.TOLERATED, 0),
        (date(2026, 4, 8), Stage.LATE, 1),
    ],
)
def test_an_open_slot_says_where_it_stands(day, stage, days):
    where = standing(next_slot(rule(after="1 week")), day)
    assert (where.stage, where.days) == (stage, days)


def test_late_work_moves_what_follows_from_completion_and_not_on_the_calendar():
    late = done(date(2026, 4, 20))
    assert next_slot(rule(), late).due_on == date(2026, 7, 20)
    assert next_slot(rule(anchor=Anchor.CALENDAR), late).due_on == date(2026, 6, 30)


def test_early_work_restarts_the_interval_from_completion_and_not_on_the_calendar():
    early = done(date(2026, 1, 5))
    assert next_slot(rule(), early).due_on == date(2026, 4, 5)
    planned = plan(rule(anchor=Anchor.CALENDAR), early)
    assert (planned.open.due_on, planned.extra) == (FIRST, tuple(early))


def test_on_a_calendar_late_work_settles_the_last_slot_and_those_before_it_are_missed():
    planned = plan(rule("1 month", Anchor.CALENDAR, "1 week"), done(date(2026, 6, 27)))
    assert timings(planned) == [
        (Timing.MISSED, 0),
        (Timing.MISSED, 0),
        (Timing.MISSED, 0),
        (Timing.ON_TIME, 0),
    ]
    assert planned.open.due_on == date(2026, 7, 31)


def test_where_windows_overlap_the_earlier_slot_is_settled_first():
    monthly = rule("1 month", Anchor.CALENDAR, "3 weeks", "2 weeks")
    planned = plan(monthly, done(date(2026, 4, 10), date(2026, 4, 12)))
    assert [settled.slot.due_on for settled in planned.settled] == [FIRST, date(2026, 4, 30)]
    assert planned.open.due_on == date(2026, 5, 31)


def test_a_skipped_occurrence_keeps_the_rhythm():
    let_go = [skipped(date(2026, 3, 20), FIRST)]
    for anchor in Anchor:
        planned = plan(rule(anchor=anchor), let_go)
        assert timings(planned) == [(Timing.SKIPPED, 0)]
        assert planned.open.due_on == date(2026, 6, 30)


def test_a_skip_that_names_a_later_slot_leaves_the_earlier_ones_missed():
    planned = plan(rule(anchor=Anchor.CALENDAR), [skipped(date(2026, 7, 1), date(2026, 6, 30))])
    assert timings(planned) == [(Timing.MISSED, 0), (Timing.SKIPPED, 0)]
    assert planned.open.due_on == date(2026, 9, 30)


def test_yearly_work_of_a_leap_day_returns_to_it_on_the_calendar():
    leap = rule("1 year", Anchor.CALENDAR, first_due=date(2024, 2, 29))
    ahead = slots_ahead(leap, [], today=date(2024, 1, 1), until=date(2028, 12, 31))
    assert [slot.due_on for slot in ahead] == [
        date(2024, 2, 29),
        date(2025, 2, 28),
        date(2026, 2, 28),
        date(2027, 2, 28),
        date(2028, 2, 29),
    ]


def test_yearly_work_done_on_a_leap_day_is_next_due_on_the_28th():
    assert next_slot(rule("1 year"), done(date(2024, 2, 29))).due_on == date(2025, 2, 28)


def test_work_before_freezing_weather_is_due_by_the_sites_day_each_year():
    frost = seasonal(
        closes=MonthDay(10, 31), lead=Interval(60, "day"), on_or_after=date(2026, 6, 1)
    )
    assert next_slot(frost) == PlannedSlot(date(2026, 10, 31), date(2026, 9, 1), date(2026, 10, 31))
    in_june = plan(frost, done(date(2026, 6, 20)))
    assert in_june.open.due_on == date(2026, 10, 31)
    assert len(in_june.extra) == 1
    assert next_slot(frost, done(date(2026, 9, 15))).due_on == date(2027, 10, 31)
    assert timings(plan(frost, done(date(2026, 11, 9)))) == [(Timing.LATE, 9)]


def test_a_shorter_interval_plans_anew_and_leaves_what_was_judged():
    history = done(date(2026, 1, 10))
    before = plan(rule("1 year", first_due=date(2026, 1, 15)), history)
    quarterly = rule(first_due=date(2026, 1, 15), since=date(2026, 6, 1))
    after = plan(quarterly, history)
    assert before.open.due_on == date(2027, 1, 10)
    assert after.open.due_on == date(2026, 6, 1), "not before the rule came into force"
    assert after.settled[0].timing is before.settled[0].timing is Timing.ON_TIME


def test_work_a_new_rule_made_due_is_late_from_the_day_it_came_into_force():
    changed = rule(first_due=date(2026, 1, 15), since=date(2026, 6, 1))
    planned = plan(changed, done(date(2026, 1, 10), date(2026, 6, 20)))
    assert timings(planned) == [(Timing.ON_TIME, 0), (Timing.LATE, 19)]


def test_a_longer_interval_moves_open_work_out():
    history = done(date(2026, 1, 10))
    assert next_slot(rule("3 years", since=date(2026, 6, 1)), history).due_on == date(2029, 1, 10)


def test_a_calendar_asks_for_nothing_before_it_came_into_force():
    calendar = rule(anchor=Anchor.CALENDAR, first_due=date(2020, 3, 31), since=date(2026, 5, 1))
    assert next_slot(calendar).due_on == date(2026, 6, 30)
    in_time = plan(calendar, done(date(2026, 6, 3)))
    assert timings(in_time) == [(Timing.ON_TIME, 0)]


@given(
    days=st.lists(st.dates(date(2026, 1, 1), date(2030, 1, 1)), max_size=8),
    interval=st.sampled_from(["1 month", "1 quarter", "1 year", "3 years"]),
    since=st.dates(date(2026, 1, 1), date(2030, 1, 1)),
    anchor=st.sampled_from(list(Anchor)),
)
def test_a_new_rule_never_makes_work_due_before_it_came_into_force(days, interval, since, anchor):
    changed = rule(interval, anchor, "1 week", since=since)
    assert next_slot(changed, done(*days)).due_on >= since


def test_occurrences_ahead_from_completion_suppose_overdue_work_is_done_today():
    ahead = slots_ahead(rule(), [], today=date(2026, 5, 15), until=date(2026, 12, 31))
    assert [slot.due_on for slot in ahead] == [FIRST, date(2026, 8, 15), date(2026, 11, 15)]


def test_the_open_occurrence_is_listed_even_past_the_horizon():
    ahead = slots_ahead(rule("10 years"), [], today=FIRST, until=date(2026, 1, 1))
    assert [slot.due_on for slot in ahead] == [FIRST]


@pytest.mark.parametrize("window", ["before", "after"])
def test_a_window_as_long_as_the_interval_is_refused(window):
    with pytest.raises(ValueError, match=f"window {window} 1 month is not shorter"):
        rule("1 month", **{"before": "0 days", window: "1 month"})


def test_an_interval_of_nothing_is_refused():
    with pytest.raises(ValueError, match="below one day"):
        rule("0 days", before="0 days")
