"""What it costs if all is left, and where money buys most life."""

from collections.abc import Iterator, Sequence

from django.utils.translation import gettext

from registry.money import Amount
from registry.templatetags.risk import points, signed
from registry.words.told.retelling import retold
from reports.kept.collecting import Collected
from reports.kept.layout import Block, Section, Table, Words
from reports.kept.measures import Help
from reports.kept.money_source import marked, sums
from reports.kept.sections.row_words import left_out
from reports.kept.standing import Standing

SITES, HELPFUL, UNPRICED = 10, 15, 10
YEARS = 5


def what_it_costs_if_left(of: Collected) -> Section:
    priced = [row for row in of.rows if of.money.by_year(row) is not None]
    blocks: list[Block] = [Words(words) for words in _a_year(of, priced)]
    sites: dict[int, list[Standing]] = {}
    for row in priced:
        sites.setdefault(row.system.site_id, []).append(row)
    ranked = sorted(sites.values(), key=lambda own: -sum(one.leak_in_5_yr or 0.0 for one in own))
    heads = [gettext("Year {number}").format(number=year) for year in range(1, YEARS + 1)]
    blocks.append(
        Table(
            (gettext("Site"), *heads, gettext("Together")),
            [_budget(of, own) for own in ranked[:SITES]],
            gettext("No system has a score, so nothing can be expected of it."),
            numbers=tuple(range(1, YEARS + 2)),
            note=" ".join(_notes(of, len(ranked))),
        )
    )
    return Section(gettext("What it costs if left"), blocks)


def _a_year(of: Collected, rows: Sequence[Standing]) -> Iterator[str]:
    for total in sums(amount for row in rows if (amount := of.money.a_year(row))):
        yield gettext(
            "If all is left as it is, leaks are expected to cost {amount} a year."
        ).format(amount=total.marked)


def _budget(of: Collected, rows: Sequence[Standing]) -> tuple[str, ...]:
    """The five years of one site, which has one owner and so one currency."""
    by_year = [found for row in rows if (found := of.money.by_year(row))]
    years = [next(sums(amounts)) for amounts in zip(*by_year, strict=True)]
    total = next(sums(years))
    return str(rows[0].system.site), *(year.marked for year in years), total.marked


def _notes(of: Collected, sites: int) -> Iterator[str]:
    if not sites:
        return
    yield gettext(
        "Expected cost of the first leak of each system: its chance in that year times the price "
        "of a leak. A second leak, interest and rising prices are not counted."
    )
    if not of.asked.is_of_now:
        yield gettext("By the prices as they stand today.")
    if of.money.assumed_words:
        yield of.money.assumed_words
    if left := left_out(sites, SITES):
        yield left


def where_money_buys_most_life(of: Collected) -> Section:
    priced = sorted(_priced(of), key=lambda one: (one[1].prices.currency, -_life_bought(*one)))
    unpriced = [one for one in of.helps if of.money.price(one.standing, one.option) is None]
    blocks: list[Block] = [
        Table(
            (
                gettext("Measure"), gettext("System"), gettext("Price"), gettext("Years gained"),
                gettext("Saved a year"), gettext("Score now"), gettext("Score then"),
            ),
            [_priced_row(of, *one) for one in priced[:HELPFUL]],
            gettext("No measure whose price is known takes 0.05 points or more off any score."),
            also=1, numbers=(2, 3, 4, 5, 6),
            note=" ".join(_helping_notes(of, len(priced))),
        )
    ]  # fmt: skip
    if unpriced:
        blocks.append(
            Table(
                (
                    gettext("Measure without a price in the book"), gettext("System"),
                    gettext("Years gained"), gettext("Saved a year"), gettext("Score now"),
                    gettext("Score then"),
                ),
                [_unpriced_row(of, one) for one in unpriced[:UNPRICED]],
                "",
                also=1, numbers=(2, 3, 4, 5),
                note=left_out(len(unpriced), UNPRICED),
            )
        )  # fmt: skip
    return Section(gettext("Where money buys most life"), blocks)


def _priced(of: Collected) -> Iterator[tuple[Help, Amount]]:
    for one in of.helps:
        if amount := of.money.price(one.standing, one.option):
            yield one, amount


def _life_bought(one: Help, price: Amount) -> float:
    """Years of life gained by one unit of the currency; none where all lies beyond the horizon."""
    gained = max(one.option.years_gained or 0.0, 0.0)
    if not gained:
        return 0.0
    return gained / price.value if price.value else float("inf")


def _priced_row(of: Collected, one: Help, price: Amount) -> tuple[str, ...]:
    return _words(one)[0], _words(one)[1], price.marked, *_gain(of, one)


def _unpriced_row(of: Collected, one: Help) -> tuple[str, ...]:
    return *_words(one), *_gain(of, one)


def _words(one: Help) -> tuple[str, str]:
    text = retold(one.option.text)
    if one.option.run is not None:
        text = f"{text}: {one.standing.book.runs[one.option.run]}"
    return text, f"{one.system.tag}, {one.system.site}"


def _gain(of: Collected, one: Help) -> tuple[str, ...]:
    gained = one.option.years_gained
    return (
        gettext("beyond 80 yr") if gained is None else signed(gained),
        marked(of.money.saved(one.standing, one.option)),
        points(one.standing.score or 0.0),
        points(one.option.score),
    )


def _helping_notes(of: Collected, measures: int) -> Iterator[str]:
    if measures:
        yield gettext(
            "The most years of median life for the money first. Saved a year: by how much the "
            "chance of a leak within five years falls, times the price of a leak, over five."
        )
    yield gettext(
        "A comparison, not a design: vents, drains and pipe are altered by the adopted edition and "
        "by licensed practice, under an impairment procedure."
    )
    if measures and of.money.assumed_words:
        yield of.money.assumed_words
    if left := left_out(measures, HELPFUL):
        yield left
