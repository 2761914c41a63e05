"""The portfolio against its bare queries: python -m tests.benchmarks.portfolio.

Fills a database of its own (`DATABASE_URL`, or SQLite in a folder that is gone afterwards) with
systems past the services, asks for the page as a manager, and for the same queries with nothing in
between: their SQL, as the page sent it, read to the last row. In one process, one after the other.
"""

import argparse
import gzip
import os
import statistics
import sys
import tempfile
import time
from datetime import date, timedelta

PAGES = (
    ("first page", "/"),
    ("narrowed", "/?state=inert&kind=wet"),
    ("by lateness", "/?sort=late"),
)
DAY = timedelta(days=1)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--systems", type=int, default=10_000)
    parser.add_argument("--sites", type=int, default=500)
    parser.add_argument("--times", type=int, default=15)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="riserbook-bench-") as folder:
        os.environ |= {
            "RISERBOOK_VAR_DIR": folder, "DJANGO_SETTINGS_MODULE": "config.settings",
            "LOG_LEVEL": "ERROR", "ALLOWED_HOSTS": "testserver",
        }  # fmt: skip
        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        client = fill(options.systems, options.sites)
        say(f"{options.systems:,} systems at {options.sites:,} sites")
        say("| page | p50 ms | p95 ms | bare p50 ms | ratio | KB | KB gzip |")
        say("| --- | ---: | ---: | ---: | ---: | ---: | ---: |")
        for name, address in PAGES:
            say(measure(client, name, address, options.times))


def say(line: str) -> None:
    print(line, flush=True)


def fill(count: int, sites: int):
    from django.contrib.auth.hashers import make_password
    from django.test import Client
    from django.utils import timezone

    from registry.models import (
        Assessment,
        AtmosphereSpan,
        Membership,
        Organisation,
        Site,
        System,
        User,
    )
    from scheduling.models import Task

    now = timezone.now()
    owner = Organisation.objects.create(name="Measured", kind="owner")
    user = User.objects.create(email="m@example.org", name="M", password=make_password(None))
    Membership.objects.create(user=user, organisation=owner, role="manager")
    places = Site.objects.bulk_create(Site(owner=owner, name=f"Site {n:05d}") for n in range(sites))
    systems = System.objects.bulk_create(
        (
            System(
                site=places[n % sites], tag=f"M-{n:06d}", kind=("wet", "dry")[n % 2],
                installed_on=date(2000, 1, 1),
            )
            for n in range(count)
        ),
        batch_size=1000,
    )  # fmt: skip
    states = ("aerated", "inert", "in_doubt")
    spans = (
        AtmosphereSpan(
            system=system, starts_at=now - age * DAY, state=states[(n + at) % 3],
            state_since=now - age * DAY, reason_code="test", reason="Test.",
            oxygen_low=0.01, oxygen_mid=0.02, oxygen_high=0.03,
        )
        for n, system in enumerate(systems)
        for at, age in enumerate((900, 400, 10))
    )  # fmt: skip
    AtmosphereSpan.objects.bulk_create(spans, batch_size=1000)
    assessed = (
        Assessment(
            system=system, model_version="bench", as_of=now.date(), assessed_at=now, digest="x",
            basis="ledger", score=(n * 7919 % 1000) / 10, band="plan", likelihood=3,
            leak_in_1_yr=0.01, leak_in_5_yr=0.05 + (n % 90) / 100, leak_in_10_yr=0.99,
            life_low_yr=2, life_mid_yr=8, life_high_yr=20,
        )
        for n, system in enumerate(systems)
    )  # fmt: skip
    Assessment.objects.bulk_create(assessed, batch_size=1000)
    tasks = (
        Task(
            system=system, rule="aerated", kind="reinerting_order", cause_key=f"k{n}",
            title="Re-inerting order", why="Test.", assigned_to=owner,
            starts_at=now, ends_at=now + timedelta(hours=2), due_at=now + (n % 60 - 20) * DAY,
            time_zone="UTC", raised_at=now, modified_at=now,
        )
        for n, system in enumerate(systems)
        if n % 3 == 0
    )  # fmt: skip
    Task.objects.bulk_create(tasks, batch_size=1000)
    analyse()
    client = Client()
    client.force_login(user)
    return client


def analyse() -> None:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def measure(client, name: str, address: str, times: int) -> str:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection):  # the first one fills what is kept for a minute
        client.get(address)
    with CaptureQueriesContext(connection) as captured:
        content = client.get(address).content
    asked = [one["sql"] for one in captured if one["sql"].lstrip().startswith("SELECT")]
    page = sorted(timed(lambda: client.get(address)) for _ in range(times))
    bare = sorted(timed(lambda: run(asked)) for _ in range(times))
    middle = statistics.median(page), statistics.median(bare)
    return (
        f"| {name} | {middle[0]:.0f} | {page[int(0.95 * (times - 1))]:.0f} | {middle[1]:.0f} | "
        f"{middle[0] / middle[1]:.2f} | {len(content) / 1000:.0f} | "
        f"{len(gzip.compress(content, 6)) / 1000:.0f} |"
    )


def run(asked: list[str]) -> None:
    from django.db import connection

    with connection.cursor() as cursor:
        for sql in asked:
            try:
                cursor.execute(sql.replace("%", "%%") if connection.vendor == "sqlite" else sql)
            except Exception as error:  # a query whose parameters cannot be written back
                print(f"left out: {error}", file=sys.stderr)
                continue
            cursor.fetchall()


def timed(what) -> float:
    begin = time.perf_counter()
    what()
    return 1000 * (time.perf_counter() - begin)


if __name__ == "__main__":
    main()
