"""Every text that a person can read is marked for translation: templates and Python."""

import ast
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django.template.base import Lexer, TokenType

ROOT = Path(__file__).parent.parent
WORD = re.compile(r"[^\W\d_]{2,}")
READ_ALOUD = {"aria-label", "title", "placeholder", "alt", "data-label", "data-step"}
NOT_PROSE = {"script", "style", "pre", "code"}
LITERAL = re.compile(
    r"""(?:\b(?:words|submit|also|next_words|error_words)=|\|default:|yesno:)"([^"]*)\""""
)
NAMES = {"Riserbook", "ISO", "CSV", "XLSX", "form", "descending,ascending"}
# 500.html is shown when nothing works, so it asks nothing of Django; movable.html is attributes.
EXEMPT = {"500.html", "movable.html"}


class Prose(HTMLParser):
    """Collects what is read of a template from which the tags of Django are taken out."""

    def __init__(self) -> None:
        super().__init__()
        self.inside: list[str] = []
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in NOT_PROSE:
            self.inside.append(tag)
        self.found += [value for name, value in attrs if name in READ_ALOUD and value]

    def handle_endtag(self, tag: str) -> None:
        if self.inside and self.inside[-1] == tag:
            self.inside.pop()

    def handle_data(self, data: str) -> None:
        if not self.inside:
            self.found.append(data)


def unmarked_in_template(source: str) -> list[str]:
    left, literals, skipped_until = [], [], ""
    for token in Lexer(source).tokenize():
        name = token.contents.split()[0] if token.token_type == TokenType.BLOCK else ""
        if skipped_until:
            skipped_until = "" if name == skipped_until else skipped_until
        elif name in ("blocktranslate", "comment"):
            skipped_until = f"end{name}"
        elif token.contents == "block page_class":
            skipped_until = "endblock"
        elif token.token_type == TokenType.TEXT:
            left.append(token.contents)
        elif token.token_type != TokenType.COMMENT:
            literals += LITERAL.findall(token.contents)
    prose = Prose()
    prose.feed("".join(left))
    prose.close()
    texts = [" ".join(text.split()) for text in [*prose.found, *literals]]
    return [text for text in texts if set(WORD.findall(text)) - NAMES and text not in NAMES]


TEMPLATES = sorted(
    path
    for app in ("registry", "scheduling", "reports")
    for ending in ("html", "txt")
    for path in (ROOT / app / "templates").rglob(f"*.{ending}")
    if path.name not in EXEMPT
)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_shows_no_unmarked_text(path):
    assert not unmarked_in_template(path.read_text())


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("<p>Lost</p>", ["Lost"]),
        ("<p>{% translate 'Lost' %}</p>", []),
        ("{% if a %}<b>{{ a }}</b> of them{% endif %}", ["of them"]),
        ("{% blocktranslate %}{{ a }} of them{% endblocktranslate %}", []),
        ('<td data-label="Wall">{{ wall }}</td>', ["Wall"]),
        ("<td data-label=\"{% translate 'Wall' %}\">{{ wall }}</td>", []),
        ('{% include "a.html" with words="None yet." %}', ["None yet."]),
        ('{% include "a.html" with words=_("None yet.") %}', []),
        ('{{ note|default:"no note" }}', ["no note"]),
        ("<code>sha256</code>{% block page_class %}sheet{% endblock %}", []),
    ],
)
def test_the_finder_of_templates_finds(source, found):
    assert unmarked_in_template(source) == found


SHOWN_BY_NAME = {"label", "help_text", "empty_label", "verbose_name", "empty_text"}
SHOWN_BY_CALL = re.compile(
    r"(messages\.(success|info|warning|error)|ValidationError|RecordError|PermissionDenied|Http404"
    r"|add_error"
    r"|ImportFileError|TooSlow|CellError|UnknownWord|AmbiguousDate|OpenNumber|QuantityError"
    r"|Problem|Conflict|Question|Column|CommandError)$"
)
SHOWN_BY_TABLE = {"labels", "help_texts", "error_messages"}


def unmarked_in_python(source: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call):
            named = [each.value for each in node.keywords if each.arg in SHOWN_BY_NAME]
            is_shown = SHOWN_BY_CALL.search(ast.unparse(node.func))
            yield from _plain([*named, *(node.args if is_shown else [])])
        elif isinstance(node, ast.Assign) and isinstance(node.value, ast.Dict):
            if {getattr(target, "id", "") for target in node.targets} & SHOWN_BY_TABLE:
                yield from _plain(node.value.values)
        elif isinstance(node, ast.ClassDef) and any(
            "Choices" in ast.unparse(b) for b in node.bases
        ):
            pairs = [each.value for each in node.body if isinstance(each, ast.Assign)]
            yield from _plain([p.elts[-1] for p in pairs if isinstance(p, ast.Tuple)])


CODE = re.compile(r"[a-z_]+:?[a-z_]*|--.*")  # fields, codes, questions by name, options


def _plain(nodes: list[ast.expr]) -> Iterator[str]:
    """The texts that stand bare; a name of a field or a code has neither blank nor capital."""
    for node in nodes:
        if isinstance(node, ast.JoinedStr):
            text = "".join(part.value for part in node.values if isinstance(part, ast.Constant))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
        else:
            continue
        if WORD.search(text) and not CODE.fullmatch(text):
            yield text


OWN = [
    *("registry/access.py", "registry/fields.py", "registry/forms", "registry/models"),
    *("registry/imports", "registry/management/commands/import_register.py"),
    *("registry/pages", "registry/services", "registry/views", "reports"),
    *("scheduling/forms", "scheduling/models", "scheduling/views"),
]
# The kinds of follow-up take their words from their rules.
ELSEWHERE = {"tasks.py"}
MODULES = sorted(
    path
    for place in OWN
    for path in ([ROOT / place] if place.endswith(".py") else (ROOT / place).rglob("*.py"))
    if path.name not in ELSEWHERE
)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_shows_no_unmarked_text(path):
    assert not list(unmarked_in_python(path.read_text()))


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ('F(label="Wall")', ["Wall"]),
        ('F(label=_("Wall"))', []),
        ('messages.success(request, f"{site} is saved.")', [" is saved."]),
        ('messages.success(request, gettext("{site} is saved.").format(site=site))', []),
        ('self.add_error("ends_on", "It is later.")', ["It is later."]),
        ('class Meta:\n    labels = {"ends_on": "To"}', ["To"]),
        ('class Kind(models.TextChoices):\n    WET = "wet", "Wet pipe"', ["Wet pipe"]),
        ('class Kind(models.TextChoices):\n    WET = "wet", _("Wet pipe")', []),
    ],
)
def test_the_finder_of_python_finds(source, found):
    assert list(unmarked_in_python(source)) == found
