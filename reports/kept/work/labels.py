"""A sheet of labels for a site: a code for each system that opens its page, to be cut out."""

from collections.abc import Sequence
from datetime import datetime

from django.conf import settings
from django.utils.translation import gettext

from registry.models import Site, System, User
from reports.kept.layout import Block, Label, Labels, Paper, Section, Words
from reports.kept.words import address_words
from reports.printing import paper_size


def label_paper(site: Site, *, reader: User, now: datetime) -> Paper:
    systems = System.objects.visible_to(reader).filter(site=site).select_related("building")
    labels = _labels(list(systems.order_by("building__name", "tag")))
    blocks: list[Block] = [
        Words(
            gettext(
                "Each code opens the page of its system to people who sign in; it holds no secret. "
                "The sign at the riser is another paper, with a code of its own."
            ),
            is_quiet=True,
        ),
        Labels(labels),
    ]
    if not labels:
        blocks = [Words(gettext("The register holds no system at this site."))]
    return Paper(
        title=gettext("Labels"),
        about=str(site),
        place=f"{site.owner}. {address_words(site)}",
        size=paper_size(reader.display_units),
        day=now.astimezone(site.zone).date(),
        sections=[Section("", blocks)],
        name="labels",
    )


def _labels(systems: Sequence[System]) -> list[Label]:
    return [
        Label(
            system.tag,
            "\n".join(
                (str(system.get_kind_display()), system.place, _address(system)),
            ),
            _code(_address(system)),
        )
        for system in systems
    ]


def _address(system: System) -> str:
    return f"{settings.PUBLIC_URL}{system.get_absolute_url()}"


def _code(address: str) -> str:
    """ISO/IEC 18004 at level Q: a quarter of it may be scratched or dirty."""
    import segno  # here, since most requests make no document

    return segno.make_qr(address, error="q").svg_inline(dark="#000", light="#fff", border=4)
