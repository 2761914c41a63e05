"""What axe finds against the rules of WCAG that a machine can check."""

from functools import cache
from pathlib import Path

import axe_playwright_python

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
OF_LOOKS = ["link-in-text-block", "target-size", "scrollable-region-focusable"]
"""With contrast the rules whose answer hangs on colours and widths, not on what the page says."""

CONTRAST = "color-contrast"
ASK = """
async ([rules, contrast, seen]) => {
  const known = new Set(seen), alike = [];
  const tag = (element) => element.cloneNode().outerHTML;
  const around = (element) => (element ? around(element.parentElement) + tag(element) : "");
  const short = (text) => [...text].reduce(
    (sum, sign) => (sum * 31 + sign.codePointAt(0)) % 281474976710597, 7);
  const plain = (html) => html
    .replace(/>[^<]+</g, "><")
    .replace(/ (?!class|type|open|hidden|disabled|role|aria-)[-\\w:]+="[^"]*"/g, "");
  for (const element of document.querySelectorAll("header, footer, tr, li, dt, dd")) {
    const look = short(plain(around(element.parentElement) + element.outerHTML));
    if (known.has(look)) alike.push(element);
    known.add(look);
  }
  const what = {resultTypes: ["violations"]};  // the rest is of no use, and takes long to hand over
  const asked = await axe.run(document, {
    ...what, runOnly: rules, rules: {[contrast]: {enabled: false}},
  });
  const without = {include: [["html"]], exclude: alike};
  const looked = await axe.run(without, {...what, runOnly: [contrast]});
  const broken = [...asked.violations, ...looked.violations];
  return [
    broken.map((rule) => [rule.id, rule.nodes.map((node) => node.html)]),
    [...known],
  ];
}
"""


class Looks:
    """Pages in one light at one width. Contrast, which takes longest, is asked once of what has
    the same markup but for words and addresses, within the same elements."""

    def __init__(self):
        self.seen: list[int] = []

    def violations(self, page) -> dict[str, list[str]]:
        """Each broken rule with the elements that break it; empty when all is well."""
        return self._ask(page, RULES)

    def violations_of_looks(self, page) -> dict[str, list[str]]:
        """Those of a page that another light or width was asked the other rules of."""
        return self._ask(page, OF_LOOKS)

    def _ask(self, page, rules: list[str]) -> dict[str, list[str]]:
        if not page.evaluate("'axe' in window"):
            page.evaluate(_program())
        found, self.seen = page.evaluate(ASK, [rules, CONTRAST, self.seen])
        return dict(found)


def violations(page) -> dict[str, list[str]]:
    """Of a page by itself."""
    return Looks().violations(page)


@cache
def _program() -> str:
    folder = Path(axe_playwright_python.__file__).parent
    return (folder / "axe.min.js").read_text(encoding="utf-8")
