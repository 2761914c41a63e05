"""Reports of many sites made by one job: seconds and the most memory it held, and how much longer
one takes than Typst alone takes to set the same words on as many pages.

Run `python -m tests.benchmarks --part reports [--size REPORTS]`. Each site has 20 systems.
"""

import json
import sys
import time
from dataclasses import asdict, dataclass
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from zipfile import ZipFile

from pypdf import PdfReader

from tests.benchmarks.proof import fill_book
from tests.benchmarks.scratch import NOW, PER_SITE, peak_mb, scratch_book, step
from tests.benchmarks.tables import Table


@dataclass(frozen=True)
class Cost:
    reports: int
    seconds: float
    megabytes: float
    before_mb: float
    file_mb: float
    pages: int
    bare_ms: float

    @property
    def ms(self) -> float:
        return 1000 * self.seconds / self.reports


def measure(reports: int) -> Cost:
    with scratch_book() as environment:
        step("reports", "fill", reports * PER_SITE, environment=environment)
        return Cost(**step("reports", "make", reports, environment=environment))


def make(reports: int) -> Cost:
    from registry.models import User
    from reports.kept.asked import Asked
    from reports.kept.batches import ask_for_reports, make_batch

    person = User.objects.get()
    batch = ask_for_reports(
        person=person, kind="sites", query="", asked=Asked.of_today(NOW), now=NOW
    )  # fmt: skip
    before, began = peak_mb(), time.perf_counter()
    make_batch(batch, now=NOW)
    seconds = time.perf_counter() - began
    if batch.reports != reports:
        raise ValueError(f"{batch.reports} reports were made of {reports}: {batch.refused}")
    most = peak_mb()
    words = _words_of_one(batch)
    return Cost(
        reports, seconds, most, before, batch.bytes / 1e6, len(words), 1000 * bare_seconds(words)
    )


def _words_of_one(batch) -> list[str]:
    """The text of the first report, page by page."""
    with batch.file.open("rb") as file, ZipFile(file) as archive:
        pdf = archive.read(archive.namelist()[0])
    return [page.extract_text() for page in PdfReader(BytesIO(pdf)).pages]


def bare_seconds(pages: list[str]) -> float:
    """The quickest of five: Typst alone, the same words as plain text, PDF/A as well."""
    import typst

    source = (
        '#set page(paper: "a4", margin: 16mm)\n#set text(font: "Libertinus Serif", size: 8pt)\n'
        "#for (at, words) in json(bytes(sys.inputs.pages)).enumerate() {\n"
        "  if at > 0 { pagebreak() }\n  words\n}\n"
    )
    with TemporaryDirectory() as folder:
        path = Path(folder) / "bare.typ"
        path.write_text(source)
        found = []
        for number in range(5):
            given = [f"{number} {words}" for words in pages]  # nothing is kept from the run before
            began = time.perf_counter()
            pdf = typst.compile(
                str(path), sys_inputs={"pages": json.dumps(given)}, pdf_standards=["a-2b"],
                ignore_system_fonts=True,
            )  # fmt: skip
            found.append(time.perf_counter() - began)
    if (count := len(PdfReader(BytesIO(pdf)).pages)) < len(pages):
        raise ValueError(f"the bare document has {count} pages and not {len(pages)}")
    return min(found)


def table(costs: list[Cost]) -> Table:
    return Table(
        f"Reports of sites of {PER_SITE} systems, in one job",
        (
            "reports", "seconds", "ms a report", "pages each", "bare typst, ms", "times bare",
            "most memory, MB", "before, MB", "file, MB",
        ),
        [
            (
                f"{one.reports:,}", f"{one.seconds:.1f}", f"{one.ms:.0f}", str(one.pages),
                f"{one.bare_ms:.0f}", f"{one.ms / one.bare_ms:.1f}",
                f"{one.megabytes:.0f}", f"{one.before_mb:.0f}", f"{one.file_mb:.1f}",
            )
            for one in costs
        ],
    )  # fmt: skip


if __name__ == "__main__":
    import django

    django.setup()
    what, size = sys.argv[1], int(sys.argv[2])
    print(json.dumps(asdict(make(size)) if what == "make" else fill_book(size)))
