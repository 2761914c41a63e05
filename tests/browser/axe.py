"""What axe finds against the rules of WCAG that a machine can check."""

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import axe_playwright_python

RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
    "resultTypes": ["violations"],  # the rest is of no use here, and takes longest to hand over
}

OF_LOOKS = ["color-contrast", "link-in-text-block", "target-size", "scrollable-region-focusable"]
"""The rules whose answer hangs on colours and widths, not on what the page says."""


ALIKE = ("tbody > tr:nth-child(n+4)", "li:nth-child(n+5)", "dl > :nth-child(n+9)", "option")
"""What looks as its forerunners do."""


def violations(page) -> dict[str, list[str]]:
    """Each broken rule with the elements that break it; empty when all is well."""
    return _run(page, RULES)


def violations_of_looks(page) -> dict[str, list[str]]:
    """Those of a page that was asked by `violations`, in another light or at another width."""
    return _run(page, RULES | {"runOnly": OF_LOOKS}, without=ALIKE)


def _run(page, rules: dict, without: Sequence[str] = ()) -> dict[str, list[str]]:
    if not page.evaluate("'axe' in window"):
        page.evaluate(_program())
    found = page.evaluate(
        "async ([rules, exclude]) => (await axe.run({include: [['html']], exclude}, rules))"
        ".violations.map((rule) => [rule.id, rule.nodes.map((node) => node.html)])",
        [rules, [[selector] for selector in without]],
    )
    return dict(found)


@cache
def _program() -> str:
    folder = Path(axe_playwright_python.__file__).parent
    return (folder / "axe.min.js").read_text(encoding="utf-8")
