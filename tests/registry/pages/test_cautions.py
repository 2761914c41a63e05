from django.template import Context, Template

from registry.kinds import KINDS
from registry.pages.cautions import CAUTIONS


def render(source: str, **context) -> str:
    return Template("{% load components %}" + source).render(Context(context))


def test_every_caution_says_what_can_happen_what_to_do_and_who_decides():
    for caution in CAUTIONS.values():
        assert caution.title and caution.can_happen and caution.do and caution.decides
        assert caution.source, f"{caution.name} does not say how it is known"


def test_the_cautions_of_the_trade_are_there():
    assert set(CAUTIONS) == {
        "draining", "nitrogen", "cylinders", "oxygen", "cpvc", "pressure", "local_codes",
    }  # fmt: skip


def test_no_caution_shouts():
    for caution in CAUTIONS.values():
        assert "!" not in caution.title + caution.can_happen + caution.do


def test_the_local_rule_names_codes_edition_authority_and_licence():
    decides = CAUTIONS["draining"].decides
    for word in ("local codes", "adopted edition", "authority having jurisdiction", "licensed"):
        assert word in decides


def test_a_caution_with_a_figure_names_its_source():
    """10 h in 24 h and 19.5 % are figures of published rules, not of this book."""
    for name in ("draining", "nitrogen", "cpvc"):
        assert any(mark in CAUTIONS[name].source for mark in ("NFPA", "CFR", "ASTM"))


def test_every_caution_that_a_kind_of_record_asks_for_exists():
    asked = {name for kind in KINDS.values() for name in kind.cautions}
    assert asked <= CAUTIONS.keys()


def test_the_tag_shows_the_named_cautions_once_and_in_order():
    html = render('{% cautions "nitrogen" names %}', names=("draining", "nitrogen"))
    assert html.index("Nitrogen displaces") < html.index("Draining takes")
    assert html.count("Nitrogen displaces") == 1
    assert html.count("Decides:") == 2


def test_folded_cautions_keep_their_titles_in_sight():
    html = render(
        '{% include "registry/_cautions.html" with is_folded=True heading_id="mind" %}',
        cautions=[CAUTIONS["draining"], CAUTIONS["nitrogen"]],
    )
    summary = html[html.index("<summary>") : html.index("</summary>")]
    assert str(CAUTIONS["draining"].title) in summary
    assert str(CAUTIONS["nitrogen"].title) in summary


def test_the_tag_shows_nothing_where_there_is_nothing_to_mind():
    assert render("{% cautions names %}", names=()).strip() == ""
