"""What axe finds against the rules of WCAG that a machine can check."""

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import axe_playwright_python

RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
    "resultTypes": ["violations"],  # the rest is of no use here, and takes longest to hand over
}

OF_LOOKS = ("color-contrast", "link-in-text-block", "target-size", "scrollable-region-focusable")
"""The rules whose answer hangs on colours and widths, not on what the page says."""


def violations(page, only: Sequence[str] = ()) -> dict[str, list[str]]:
    """Each broken rule with the elements that break it; empty when all is well."""
    rules = RULES | {"runOnly": list(only)} if only else RULES
    if not page.evaluate("'axe' in window"):
        page.evaluate(_program())
    found = page.evaluate(
        "async (rules) => (await axe.run(document, rules)).violations"
        ".map((rule) => [rule.id, rule.nodes.map((node) => node.html)])",
        rules,
    )
    return dict(found)


@cache
def _program() -> str:
    folder = Path(axe_playwright_python.__file__).parent
    return (folder / "axe.min.js").read_text(encoding="utf-8")
