"""What the tests of recurring work need: a system whose site has adopted an edition."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from scheduling import recurring
from scheduling.models import Occurrence, SprinklerArea

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
PDF = b"%PDF-1.7\n1 0 obj\n"
JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00" + bytes(64)
PNG = b"\x89PNG\r\n\x1a\n" + bytes(64)
NOTHING = {"found": "none"}


def adopt(site, by, edition="nfpa25-2017", now=NOW):
    return recurring.adopt_edition(site=site, edition=edition, adopted_by=by, now=now)


def open_of(system, key) -> Occurrence:
    return Occurrence.objects.with_place().open().get(system=system, item__key=key)


def complete(occurrence, by, on, now=None, **facts):
    facts.setdefault("details", NOTHING)
    return recurring.complete_occurrence(
        occurrence=occurrence, occurred_at=on, recorded_by=by, now=now or on, **facts
    )


def upload(name="drain.jpg", content=JPEG) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


def make_area(system, now=NOW, **facts) -> SprinklerArea:
    facts = {
        "label": "Cold store", "sprinkler_type": "dry", "installed_on": date(2015, 1, 1),
        "count": 100, **facts,
    }  # fmt: skip
    return recurring.save_area(area=SprinklerArea(system=system, **facts), now=now)


def recurring_objects(world, system) -> dict[str, dict[str, Any]]:
    """Arguments for each address of recurring work, with work done on the day before."""
    adopted = adopt(world.site, world.owner)
    area = make_area(system)
    done = complete(
        open_of(system, "gauges"), world.technician, NOW - timedelta(days=1), now=NOW,
        files=[upload()],
    )  # fmt: skip
    occurrence = open_of(system, "main-drain")
    owner = {"pk": world.owner_organisation.pk}
    row = owner | {"row": "gauges-wet"}
    site, here = {"pk": world.site.pk}, {"pk": system.pk}
    return {
        "scheduling:library-owner": owner,
        "scheduling:library-new": owner,
        "scheduling:library-row": row,
        "scheduling:library-restore": row,
        "scheduling:site-edition": site,
        "scheduling:site-winter": site,
        "scheduling:site-edition-end": {"pk": adopted.pk},
        "scheduling:schedule": here,
        "scheduling:schedule-answers": here,
        "scheduling:sprinklers-new": here,
        "scheduling:sprinklers-edit": {"pk": area.pk},
        "scheduling:last-done": {"pk": occurrence.item_id},
        "scheduling:occurrence-complete": {"pk": occurrence.pk},
        "scheduling:occurrence-skip": {"pk": occurrence.pk},
        "scheduling:inspection": {"pk": done.pk},
        "scheduling:inspection-withdraw": {"pk": done.pk},
        "scheduling:attachment": {"uuid": done.attachments.get().uuid},
        "registry:attachment": {"uuid": done.attachments.get().uuid},
        "registry:attachment-take-back": {"uuid": done.attachments.get().uuid},
        "scheduling:impairments": here,
        "scheduling:impairment-start": here,
        "scheduling:impairment-end": here,
    }
