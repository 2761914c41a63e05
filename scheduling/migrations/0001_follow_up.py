"""Every table as it stands: the first year of changes in one step, a tenth of the time.

A book that has all that is named under `replaces` has this too. One that stopped in between is
brought on with the version it came from, then with this one.
"""

import datetime
import uuid

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import registry.models.sites
import scheduling.models.library
import scheduling.models.webhooks


class Migration(migrations.Migration):
    replaces = [
        ("scheduling", "0001_initial"),
        ("scheduling", "0002_recurring"),
        ("scheduling", "0003_messages"),
        ("scheduling", "0004_work_states"),
        ("scheduling", "0005_feeds_hold_more"),
        ("scheduling", "0006_plans_asked_and_secrets"),
        ("scheduling", "0007_rules_as_data"),
        ("scheduling", "0008_jobs_move_to_the_register"),
        ("scheduling", "0009_tell_of_verdicts_and_packages"),
        ("scheduling", "0010_protection"),
        ("scheduling", "0011_attachments_to_registry"),
        ("scheduling", "0012_tell_of_rules_that_failed"),
        ("scheduling", "0013_crews_vans_and_plans"),
        ("scheduling", "0014_deliveries_as_standard_webhooks"),
        ("scheduling", "0016_feeds_remember_what_they_show"),
        ("scheduling", "0017_reports_people_keep"),
    ]

    initial = True

    dependencies = [
        ("registry", "0001_book"),
        ("registry", "__first__"),
    ]

    operations = [
        migrations.CreateModel(
            name="CalendarTurn",
            fields=[
                (
                    "system",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="calendar_turn",
                        serialize=False,
                        to="registry.system",
                    ),
                ),
                ("turn", models.PositiveIntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name="Depot",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=60)),
                (
                    "latitude",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-90),
                            django.core.validators.MaxValueValidator(90),
                        ],
                    ),
                ),
                (
                    "longitude",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-180),
                            django.core.validators.MaxValueValidator(180),
                        ],
                    ),
                ),
                (
                    "full_cylinders",
                    models.PositiveIntegerField(
                        blank=True,
                        null=True,
                        validators=[django.core.validators.MaxValueValidator(10000)],
                    ),
                ),
                ("counted_on", models.DateField(blank=True, null=True)),
                (
                    "deliveries",
                    models.TextField(blank=True, help_text="A line each: day and cylinders."),
                ),
                (
                    "organisation",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="depots",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("organisation", "name"), name="one_depot_of_a_name_per_organisation"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("latitude__isnull", True), ("longitude__isnull", True)),
                            models.Q(("latitude__isnull", False), ("longitude__isnull", False)),
                            _connector="OR",
                        ),
                        name="depot_lies_by_both_degrees",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Crew",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=60)),
                ("is_active", models.BooleanField(default=True, verbose_name="goes out")),
                ("hours", models.CharField(blank=True, max_length=200)),
                ("skills", models.CharField(blank=True, max_length=200)),
                (
                    "cylinder_places",
                    models.PositiveIntegerField(
                        blank=True,
                        null=True,
                        validators=[django.core.validators.MaxValueValidator(200)],
                    ),
                ),
                (
                    "overtime_minutes",
                    models.PositiveIntegerField(
                        blank=True,
                        null=True,
                        validators=[django.core.validators.MaxValueValidator(480)],
                    ),
                ),
                (
                    "absences",
                    models.TextField(blank=True, help_text="A line each: first and last day away."),
                ),
                (
                    "organisation",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="crews",
                        to="registry.organisation",
                    ),
                ),
                (
                    "people",
                    models.ManyToManyField(
                        blank=True, related_name="crews", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "depot",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="crews",
                        to="scheduling.depot",
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("organisation", "name"), name="one_crew_of_a_name_per_organisation"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Task",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("rule", models.CharField(max_length=40)),
                (
                    "kind",
                    models.CharField(
                        help_text="The code of the work that its rule asks for.", max_length=24
                    ),
                ),
                ("cause_key", models.CharField(max_length=100)),
                ("title", models.CharField(max_length=150)),
                ("why", models.TextField()),
                (
                    "is_handed_over",
                    models.BooleanField(
                        default=False, help_text="A person, and not the rules, said who has it."
                    ),
                ),
                (
                    "work_state",
                    models.CharField(
                        choices=[
                            ("offered", "Offered"),
                            ("accepted", "Accepted"),
                            ("booked", "Booked"),
                            ("started", "Under way"),
                            ("declined", "Declined"),
                            ("cannot", "Cannot be done"),
                        ],
                        default="offered",
                        editable=False,
                        max_length=10,
                    ),
                ),
                (
                    "work_reason",
                    models.TextField(
                        blank=True, help_text="Why it was declined or cannot be done."
                    ),
                ),
                (
                    "is_promised",
                    models.BooleanField(
                        default=False,
                        help_text="The customer was promised the very time; no plan moves it.",
                    ),
                ),
                (
                    "turn",
                    models.PositiveIntegerField(
                        default=0,
                        editable=False,
                        help_text="Counts changes of work, so that of two one wins.",
                    ),
                ),
                (
                    "opens_at",
                    models.DateTimeField(
                        blank=True,
                        help_text="Earlier work does not count; empty: any time.",
                        null=True,
                    ),
                ),
                (
                    "starts_at",
                    models.DateTimeField(help_text="Begin of the time set aside in calendars."),
                ),
                ("ends_at", models.DateTimeField()),
                ("due_at", models.DateTimeField(help_text="Late from here on.")),
                (
                    "due_because",
                    models.TextField(blank=True, help_text="Why this date and no other."),
                ),
                (
                    "dating_key",
                    models.CharField(
                        blank=True,
                        help_text="What the date rests on; while it holds, it stays.",
                        max_length=200,
                    ),
                ),
                (
                    "time_zone",
                    models.CharField(
                        help_text="The site's zone that the times follow.", max_length=64
                    ),
                ),
                (
                    "status",
                    models.CharField(
                        choices=[("open", "Open"), ("done", "Done"), ("withdrawn", "Withdrawn")],
                        default="open",
                        max_length=10,
                    ),
                ),
                ("raised_at", models.DateTimeField()),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("closing_note", models.CharField(blank=True, max_length=300)),
                ("sequence", models.PositiveIntegerField(default=0, editable=False)),
                ("slot_digest", models.CharField(blank=True, editable=False, max_length=64)),
                ("text_digest", models.CharField(blank=True, editable=False, max_length=64)),
                ("modified_at", models.DateTimeField()),
                (
                    "assigned_to",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tasks",
                        to="registry.organisation",
                    ),
                ),
                (
                    "cause",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tasks",
                        to="registry.record",
                    ),
                ),
                (
                    "closed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="closed_tasks",
                        to="registry.record",
                    ),
                ),
                (
                    "crew",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tasks",
                        to="scheduling.crew",
                    ),
                ),
                (
                    "further_causes",
                    models.ManyToManyField(
                        blank=True, related_name="merged_tasks", to="registry.record"
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tasks",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "ordering": ["due_at", "pk"],
                "indexes": [
                    models.Index(fields=["status", "due_at"], name="scheduling__status_9356a5_idx"),
                    models.Index(
                        fields=["system", "status"], name="scheduling__system__11a789_idx"
                    ),
                    models.Index(
                        fields=["crew", "starts_at"], name="scheduling__crew_id_a59d71_idx"
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("rule", "system", "cause_key"),
                        name="one_task_per_rule_system_and_cause",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("ends_at__gt", models.F("starts_at"))),
                        name="task_ends_after_it_starts",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("closed_at__isnull", True), ("status", "open")),
                            models.Q(
                                models.Q(("status", "open"), _negated=True),
                                ("closed_at__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="closed_tasks_say_when",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("work_state__in", ["declined", "cannot"]), _negated=True),
                            models.Q(("work_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="work_that_is_not_done_says_why",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Revision",
            fields=[
                ("uid", models.UUIDField(editable=False, primary_key=True, serialize=False)),
                ("sequence", models.PositiveIntegerField(default=0)),
                ("slot_digest", models.CharField(blank=True, max_length=64)),
                ("text_digest", models.CharField(blank=True, max_length=64)),
                ("created_at", models.DateTimeField()),
                ("modified_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="SystemWatch",
            fields=[
                (
                    "system",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="watch",
                        serialize=False,
                        to="registry.system",
                    ),
                ),
                ("state", models.CharField(max_length=10)),
                (
                    "state_since",
                    models.DateTimeField(help_text="Begin of the span that held then."),
                ),
                ("applied_at", models.DateTimeField()),
                (
                    "assessment",
                    models.CharField(
                        blank=True,
                        help_text="The assessment that due dates rested on.",
                        max_length=80,
                    ),
                ),
                (
                    "is_stale",
                    models.BooleanField(
                        default=False, help_text="Its owner changed the rules since."
                    ),
                ),
                (
                    "is_to_derive",
                    models.BooleanField(
                        default=False,
                        help_text="Its owner changed the limits its atmosphere is judged by.",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="EscalationLevel",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "level",
                    models.PositiveSmallIntegerField(
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(9),
                        ]
                    ),
                ),
                (
                    "after_days",
                    models.PositiveIntegerField(
                        validators=[django.core.validators.MaxValueValidator(3650)],
                        verbose_name="days late",
                    ),
                ),
                (
                    "told",
                    models.CharField(
                        choices=[
                            ("worker", "Managers of whoever has the work"),
                            ("owner", "The owner's managers"),
                            ("person", "One person"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="escalation_levels",
                        to="registry.organisation",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["owner", "level"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("owner", "level"), name="one_escalation_of_a_level_per_owner"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("person__isnull", False), ("told", "person")),
                            models.Q(
                                models.Q(("told", "person"), _negated=True),
                                ("person__isnull", True),
                            ),
                            _connector="OR",
                        ),
                        name="a_person_only_where_one_is_told",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="FeedToken",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("label", models.CharField(max_length=80)),
                (
                    "scope",
                    models.CharField(
                        choices=[
                            ("person", "Everything I may see"),
                            ("site", "One site"),
                            ("building", "One building"),
                            ("system", "One system"),
                            ("contractor", "What one contractor has to do"),
                            ("crew", "What one crew has to do"),
                        ],
                        default="person",
                        max_length=12,
                    ),
                ),
                ("with_tasks", models.BooleanField(default=True)),
                ("with_recurring", models.BooleanField(default=False)),
                ("with_impairments", models.BooleanField(default=False)),
                (
                    "horizon_days",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (0, "Only what is planned"),
                            (30, "30 days"),
                            (90, "90 days"),
                            (365, "A year"),
                        ],
                        default=0,
                        help_text="How far ahead recurring work is shown that is expected, but not planned yet.",
                    ),
                ),
                (
                    "alarm",
                    models.CharField(
                        choices=[
                            ("none", "None"),
                            ("hour", "An hour before"),
                            ("day", "A day before"),
                            ("week", "A week before"),
                        ],
                        default="day",
                        max_length=6,
                    ),
                ),
                (
                    "detail",
                    models.CharField(
                        choices=[
                            ("full", "Place, reason, cautions and a link"),
                            (
                                "brief",
                                "Work and time, and a link: for a calendar that others can read",
                            ),
                        ],
                        default="full",
                        max_length=6,
                    ),
                ),
                ("digest", models.CharField(editable=False, max_length=64, unique=True)),
                ("created_at", models.DateTimeField()),
                ("revoked_at", models.DateTimeField(blank=True, null=True)),
                (
                    "rests_on",
                    models.CharField(
                        blank=True,
                        editable=False,
                        help_text="What `shows` was made of, as a digest.",
                        max_length=64,
                    ),
                ),
                (
                    "shows",
                    models.CharField(
                        blank=True,
                        editable=False,
                        help_text="A digest of the recurring work and impairments that were last written.",
                        max_length=64,
                    ),
                ),
                ("shows_since", models.DateTimeField(editable=False, null=True)),
                (
                    "shows_until",
                    models.DateTimeField(
                        editable=False,
                        help_text="From here on time alone changes what is shown.",
                        null=True,
                    ),
                ),
                ("last_fetched_at", models.DateTimeField(blank=True, null=True)),
                (
                    "building",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="feed_tokens",
                        to="registry.building",
                    ),
                ),
                (
                    "contractor",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="feed_tokens",
                        to="registry.organisation",
                    ),
                ),
                (
                    "crew",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="feed_tokens",
                        to="scheduling.crew",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="feed_tokens",
                        to="registry.site",
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="feed_tokens",
                        to="registry.system",
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="feed_tokens",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-created_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("building__isnull", True),
                                ("contractor__isnull", True),
                                ("crew__isnull", True),
                                ("scope", "person"),
                                ("site__isnull", True),
                                ("system__isnull", True),
                            ),
                            models.Q(
                                ("building__isnull", True),
                                ("contractor__isnull", True),
                                ("crew__isnull", True),
                                ("scope", "site"),
                                ("site__isnull", False),
                                ("system__isnull", True),
                            ),
                            models.Q(
                                ("building__isnull", False),
                                ("contractor__isnull", True),
                                ("crew__isnull", True),
                                ("scope", "building"),
                                ("site__isnull", True),
                                ("system__isnull", True),
                            ),
                            models.Q(
                                ("building__isnull", True),
                                ("contractor__isnull", True),
                                ("crew__isnull", True),
                                ("scope", "system"),
                                ("site__isnull", True),
                                ("system__isnull", False),
                            ),
                            models.Q(
                                ("building__isnull", True),
                                ("contractor__isnull", False),
                                ("crew__isnull", True),
                                ("scope", "contractor"),
                                ("site__isnull", True),
                                ("system__isnull", True),
                            ),
                            models.Q(
                                ("building__isnull", True),
                                ("contractor__isnull", True),
                                ("crew__isnull", False),
                                ("scope", "crew"),
                                ("site__isnull", True),
                                ("system__isnull", True),
                            ),
                            _connector="OR",
                        ),
                        name="feed_names_what_its_scope_needs",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("with_tasks", True),
                            ("with_recurring", True),
                            ("with_impairments", True),
                            _connector="OR",
                        ),
                        name="feed_holds_something",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="MailPreference",
            fields=[
                (
                    "person",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="mail_preference",
                        serialize=False,
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "time_zone",
                    models.CharField(
                        default="UTC",
                        help_text="IANA name, for example Europe/London. Quiet hours and the digest follow it.",
                        max_length=64,
                        validators=[registry.models.sites.check_time_zone],
                    ),
                ),
                (
                    "quiet_from",
                    models.TimeField(
                        blank=True,
                        help_text="No mail from this time, for example 19:00.",
                        null=True,
                        verbose_name="quiet from",
                    ),
                ),
                (
                    "quiet_until",
                    models.TimeField(
                        blank=True,
                        help_text="Mail that waited is sent then.",
                        null=True,
                        verbose_name="quiet until",
                    ),
                ),
                (
                    "wants_assignment",
                    models.BooleanField(
                        default=True, verbose_name="When a follow-up is given to my organisation"
                    ),
                ),
                (
                    "wants_escalation",
                    models.BooleanField(
                        default=True, verbose_name="When a late follow-up is reported to me"
                    ),
                ),
                (
                    "wants_digest",
                    models.BooleanField(default=True, verbose_name="Weekly digest, Monday morning"),
                ),
                (
                    "wants_job",
                    models.BooleanField(
                        default=True, verbose_name="When a job of the book is given up"
                    ),
                ),
                (
                    "wants_verdict",
                    models.BooleanField(
                        default=True,
                        verbose_name="When the nightly check finds that the book does not hold",
                    ),
                ),
                (
                    "wants_package",
                    models.BooleanField(
                        default=True,
                        verbose_name="When a package of records that I asked for is ready",
                    ),
                ),
                (
                    "wants_rule",
                    models.BooleanField(
                        default=True, verbose_name="When a rule could not be applied to a system"
                    ),
                ),
                (
                    "wants_report",
                    models.BooleanField(
                        default=True,
                        verbose_name="When a report that I asked for, once or on a day of each week or month, is ready",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("quiet_from__isnull", True), ("quiet_until__isnull", True)),
                            models.Q(("quiet_from__isnull", False), ("quiet_until__isnull", False)),
                            _connector="OR",
                        ),
                        name="quiet_hours_have_both_ends",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="WebhookEndpoint",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("label", models.CharField(max_length=80, verbose_name="name")),
                ("url", models.CharField(max_length=500, verbose_name="address")),
                (
                    "nonce",
                    models.CharField(
                        default=scheduling.models.webhooks.new_nonce, editable=False, max_length=64
                    ),
                ),
                (
                    "is_secret_unseen",
                    models.BooleanField(
                        default=False,
                        editable=False,
                        help_text="An update made a new one that nobody was shown.",
                    ),
                ),
                ("kinds", models.JSONField(default=list, verbose_name="news")),
                (
                    "is_active",
                    models.BooleanField(default=True, verbose_name="Deliver to this address"),
                ),
                ("stopped_because", models.CharField(blank=True, max_length=200)),
                ("made_at", models.DateTimeField()),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="endpoints",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="endpoints",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["label", "pk"],
            },
        ),
        migrations.CreateModel(
            name="Message",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("assignment", "Follow-up given to your organisation"),
                            ("escalation", "Follow-up late"),
                            ("digest", "Weekly digest"),
                            ("job", "Job of the book given up"),
                            ("verdict", "Records that do not hold"),
                            ("package", "Package that you asked for"),
                            ("rule", "Rule that could not be applied"),
                            ("report", "Report that you asked for"),
                            ("record.added", "Record added to a ledger"),
                            ("follow_up.assigned", "Follow-up assigned"),
                            ("follow_up.closed", "Follow-up closed"),
                            ("follow_up.late", "Follow-up late"),
                            ("trial", "Trial delivery"),
                        ],
                        max_length=24,
                    ),
                ),
                ("cause_key", models.CharField(max_length=100)),
                (
                    "body",
                    models.TextField(
                        blank=True, help_text="What a webhook posts; mail is written late."
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("pending", "Waiting"),
                            ("claimed", "Being sent"),
                            ("sent", "Sent"),
                            ("failed", "Given up"),
                            ("dropped", "Not needed"),
                        ],
                        default="pending",
                        max_length=8,
                    ),
                ),
                ("created_at", models.DateTimeField()),
                ("not_before", models.DateTimeField()),
                ("attempts", models.PositiveSmallIntegerField(default=0)),
                ("parcel", models.UUIDField(blank=True, editable=False, null=True)),
                ("claimed_at", models.DateTimeField(blank=True, null=True)),
                ("settled_at", models.DateTimeField(blank=True, null=True)),
                ("last_error", models.CharField(blank=True, max_length=500)),
                (
                    "person",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="mail",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "task",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="messages",
                        to="scheduling.task",
                    ),
                ),
                (
                    "endpoint",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="messages",
                        to="scheduling.webhookendpoint",
                    ),
                ),
            ],
            options={
                "ordering": ["-created_at", "-pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("state__in", ["pending", "claimed"])),
                        fields=["not_before"],
                        name="messages_to_send",
                    ),
                    models.Index(fields=["parcel"], name="scheduling__parcel_af9089_idx"),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("person__isnull", False)),
                        fields=("person", "kind", "cause_key"),
                        name="one_mail_per_person_kind_and_cause",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("endpoint__isnull", False)),
                        fields=("endpoint", "kind", "cause_key"),
                        name="one_post_per_endpoint_kind_and_cause",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("person__isnull", True), ("endpoint__isnull", True), _connector="XOR"
                        ),
                        name="message_has_one_recipient",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Delivery",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("attempted_at", models.DateTimeField()),
                (
                    "address",
                    models.CharField(
                        blank=True, help_text="The address connected to.", max_length=45
                    ),
                ),
                ("status", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("took_ms", models.PositiveIntegerField(default=0)),
                ("error", models.CharField(blank=True, max_length=300)),
                (
                    "message",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="deliveries",
                        to="scheduling.message",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "deliveries",
                "ordering": ["-attempted_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="Notice",
            fields=[
                (
                    "task",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="notice",
                        serialize=False,
                        to="scheduling.task",
                    ),
                ),
                ("turn", models.PositiveIntegerField(default=0)),
                (
                    "organisation",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.organisation",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Escalation",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("level", models.PositiveSmallIntegerField()),
                ("raised_at", models.DateTimeField()),
                (
                    "late_since",
                    models.DateTimeField(
                        help_text="When the follow-up was due as this was raised."
                    ),
                ),
                (
                    "told",
                    models.CharField(
                        choices=[
                            ("worker", "Managers of whoever has the work"),
                            ("owner", "The owner's managers"),
                            ("person", "One person"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "people",
                    models.ManyToManyField(related_name="escalations", to=settings.AUTH_USER_MODEL),
                ),
                (
                    "task",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="escalations",
                        to="scheduling.task",
                    ),
                ),
            ],
            options={
                "ordering": ["task", "level"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("task", "level"), name="one_escalation_per_task_level"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="OwnItem",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("row", models.SlugField(max_length=80)),
                ("key", models.SlugField(max_length=80)),
                ("title", models.CharField(max_length=150)),
                (
                    "group",
                    models.CharField(
                        choices=[
                            ("inspection", "Inspection"),
                            ("test", "Test"),
                            ("maintenance", "Maintenance"),
                            ("assessment", "Internal assessment"),
                        ],
                        max_length=12,
                    ),
                ),
                ("system_kinds", models.CharField(max_length=60)),
                ("interval", models.CharField(blank=True, max_length=20)),
                ("trigger", models.CharField(blank=True, max_length=120)),
                (
                    "before",
                    models.CharField(default="0 days", max_length=20, verbose_name="window before"),
                ),
                (
                    "after",
                    models.CharField(default="0 days", max_length=20, verbose_name="window after"),
                ),
                ("anchor", models.CharField(default="completion", max_length=12)),
                (
                    "season",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("before_freezing", "Before freezing weather"),
                            ("warm_weather", "In warm weather"),
                        ],
                        max_length=20,
                    ),
                ),
                ("condition", models.CharField(blank=True, max_length=40)),
                ("standard", models.CharField(blank=True, max_length=60)),
                ("edition_from", models.PositiveIntegerField(blank=True, null=True)),
                ("edition_to", models.PositiveIntegerField(blank=True, null=True)),
                ("clause", models.CharField(blank=True, max_length=60)),
                ("source", models.TextField(max_length=500)),
                ("how_known", models.CharField(max_length=40)),
                ("note", models.TextField(blank=True, max_length=500)),
                ("is_used", models.BooleanField(default=True)),
                ("changed_at", models.DateTimeField()),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="own_items",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="own_items",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["key", "row"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("owner", "row"), name="one_version_of_a_row_per_owner"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Place",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "latitude",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-90),
                            django.core.validators.MaxValueValidator(90),
                        ],
                    ),
                ),
                (
                    "longitude",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-180),
                            django.core.validators.MaxValueValidator(180),
                        ],
                    ),
                ),
                ("hours", models.CharField(blank=True, max_length=200)),
                ("changed_at", models.DateTimeField()),
                (
                    "building",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="places",
                        to="registry.building",
                    ),
                ),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="places",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "ordering": ["site", "building"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("building__isnull", True)),
                        fields=("site",),
                        name="one_place_per_site",
                    ),
                    models.UniqueConstraint(fields=("building",), name="one_place_per_building"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("latitude__isnull", True), ("longitude__isnull", True)),
                            models.Q(("latitude__isnull", False), ("longitude__isnull", False)),
                            _connector="OR",
                        ),
                        name="place_lies_by_both_degrees",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PlanAsked",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("asked_at", models.DateTimeField()),
                (
                    "turn",
                    models.PositiveIntegerField(
                        default=0, help_text="Raised each time it is asked for."
                    ),
                ),
                (
                    "planned_to",
                    models.PositiveBigIntegerField(
                        default=0, help_text="Systems up to this key are planned."
                    ),
                ),
                (
                    "owner",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="plan_asked",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["asked_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="PlanningPolicy",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "metres_per_minute",
                    models.PositiveIntegerField(
                        default=700,
                        validators=[
                            django.core.validators.MinValueValidator(50),
                            django.core.validators.MaxValueValidator(2500),
                        ],
                    ),
                ),
                (
                    "detour_percent",
                    models.PositiveIntegerField(
                        default=130,
                        validators=[
                            django.core.validators.MinValueValidator(100),
                            django.core.validators.MaxValueValidator(400),
                        ],
                    ),
                ),
                (
                    "minutes_unplaced",
                    models.PositiveIntegerField(
                        default=20, validators=[django.core.validators.MaxValueValidator(300)]
                    ),
                ),
                (
                    "drive_cost",
                    models.PositiveIntegerField(
                        default=2, validators=[django.core.validators.MaxValueValidator(1000)]
                    ),
                ),
                (
                    "overtime_cost",
                    models.PositiveIntegerField(
                        default=6, validators=[django.core.validators.MaxValueValidator(1000)]
                    ),
                ),
                (
                    "move_cost",
                    models.PositiveIntegerField(
                        default=100, validators=[django.core.validators.MaxValueValidator(100000)]
                    ),
                ),
                (
                    "break_minutes",
                    models.PositiveIntegerField(
                        default=30, validators=[django.core.validators.MaxValueValidator(120)]
                    ),
                ),
                ("break_from", models.TimeField(default=datetime.time(11, 0))),
                ("break_to", models.TimeField(default=datetime.time(13, 30))),
                (
                    "restock_minutes",
                    models.PositiveIntegerField(
                        default=20, validators=[django.core.validators.MaxValueValidator(240)]
                    ),
                ),
                ("cylinder", models.CharField(default="large", max_length=20)),
                (
                    "organisation",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="planning_policy",
                        to="registry.organisation",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="SprinklerArea",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("label", models.CharField(max_length=80, verbose_name="sample area")),
                (
                    "sprinkler_type",
                    models.CharField(
                        choices=[
                            ("standard_response", "Standard response"),
                            ("fast_response", "Fast response"),
                            ("dry", "Dry sprinklers"),
                            ("extra_high_temperature", "Solder type, 325 °F (163 °C) or more"),
                        ],
                        max_length=24,
                        verbose_name="type",
                    ),
                ),
                (
                    "environment",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "Ordinary"),
                            ("harsh", "Harsh: corrosive water or air"),
                            ("harsh_resistant", "Harsh, and listed corrosion-resistant"),
                        ],
                        default="",
                        max_length=16,
                    ),
                ),
                (
                    "count",
                    models.PositiveIntegerField(
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(100000),
                        ],
                        verbose_name="sprinklers",
                    ),
                ),
                ("installed_on", models.DateField(verbose_name="fitted")),
                (
                    "last_tested_on",
                    models.DateField(blank=True, null=True, verbose_name="last sample tested"),
                ),
                ("is_removed", models.BooleanField(default=False, verbose_name="taken out")),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="sprinkler_areas",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "ordering": ["label"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("is_removed", False)),
                        fields=("system", "label"),
                        name="one_sample_area_of_a_name_per_system",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("count__gte", 1)), name="sample_area_has_sprinklers"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="RecurringItem",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.CharField(max_length=80)),
                ("title", models.CharField(max_length=150)),
                ("group", models.CharField(max_length=12)),
                ("interval", models.CharField(max_length=20)),
                ("before", models.CharField(max_length=20)),
                ("after", models.CharField(max_length=20)),
                ("anchor", models.CharField(max_length=12)),
                ("first_due", models.DateField()),
                ("since", models.DateField(blank=True, null=True)),
                (
                    "last_done_on",
                    models.DateField(
                        blank=True, null=True, verbose_name="last done before this book"
                    ),
                ),
                ("asked_by", models.CharField(max_length=150)),
                ("how_known", models.CharField(max_length=80)),
                ("note", models.TextField(blank=True)),
                ("presumed", models.CharField(blank=True, max_length=40)),
                ("is_active", models.BooleanField(default=True)),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="recurring_items",
                        to="registry.system",
                    ),
                ),
                (
                    "area",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="items",
                        to="scheduling.sprinklerarea",
                    ),
                ),
            ],
            options={
                "ordering": ["title"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("system", "key"), name="one_recurring_item_per_system_and_key"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Occurrence",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(editable=False, unique=True)),
                ("due_on", models.DateField()),
                ("opens_on", models.DateField()),
                ("closes_on", models.DateField()),
                (
                    "opens_at",
                    models.DateTimeField(
                        help_text="Start of the first day of the window at the site."
                    ),
                ),
                (
                    "late_at",
                    models.DateTimeField(
                        help_text="End of the last day of the window at the site."
                    ),
                ),
                ("first_due_on", models.DateField()),
                (
                    "status",
                    models.CharField(
                        choices=[
                            ("open", "Open"),
                            ("done", "Done"),
                            ("skipped", "Skipped"),
                            ("missed", "Missed"),
                            ("withdrawn", "No longer asked for"),
                        ],
                        default="open",
                        max_length=10,
                    ),
                ),
                ("timing", models.CharField(blank=True, max_length=10)),
                ("days", models.PositiveIntegerField(default=0)),
                ("planned_at", models.DateTimeField()),
                ("settled_at", models.DateTimeField(blank=True, null=True)),
                (
                    "record",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="occurrences",
                        to="registry.record",
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="occurrences",
                        to="registry.system",
                    ),
                ),
                (
                    "item",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="occurrences",
                        to="scheduling.recurringitem",
                    ),
                ),
            ],
            options={
                "ordering": ["late_at", "pk"],
                "indexes": [
                    models.Index(
                        fields=["status", "late_at"], name="scheduling__status_90c318_idx"
                    ),
                    models.Index(
                        fields=["system", "status"], name="scheduling__system__76d4ea_idx"
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("status", "open")),
                        fields=("item",),
                        name="one_open_occurrence_per_item",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("opens_on__lte", models.F("due_on")),
                            ("closes_on__gte", models.F("due_on")),
                        ),
                        name="due_day_lies_within_its_window",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("settled_at__isnull", True), ("status", "open")),
                            models.Q(
                                models.Q(("status", "open"), _negated=True),
                                ("settled_at__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="settled_occurrences_say_when",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ReportSchedule",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("portfolio", "One report of what is chosen"),
                            ("sites", "A report of each site"),
                        ],
                        max_length=10,
                        verbose_name="Report",
                    ),
                ),
                ("query", models.CharField(blank=True, max_length=500)),
                (
                    "rhythm",
                    models.CharField(
                        choices=[("weekly", "Every week"), ("monthly", "Every month")],
                        max_length=8,
                        verbose_name="How often",
                    ),
                ),
                (
                    "day",
                    models.PositiveSmallIntegerField(
                        default=1,
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(28),
                        ],
                        verbose_name="Day",
                    ),
                ),
                ("next_on", models.DateField()),
                ("last_on", models.DateField(blank=True, null=True)),
                ("is_active", models.BooleanField(default=True)),
                ("created_at", models.DateTimeField()),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="report_schedules",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("day__gte", 1), ("day__lte", 28)),
                        name="report_day_is_in_every_month",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("rhythm", "monthly"), ("day__lte", 7), _connector="OR"),
                        name="report_weekday_is_one_of_seven",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ReportBatch",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("portfolio", "One report of what is chosen"),
                            ("sites", "A report of each site"),
                        ],
                        max_length=10,
                        verbose_name="Report",
                    ),
                ),
                ("query", models.CharField(blank=True, max_length=500)),
                ("as_of", models.DateField()),
                ("since", models.DateField()),
                ("known_on", models.DateField(blank=True, null=True)),
                ("asked_at", models.DateTimeField()),
                ("reports", models.PositiveIntegerField(default=0)),
                ("systems", models.JSONField(blank=True, default=list)),
                ("made_at", models.DateTimeField(blank=True, null=True)),
                ("file", models.FileField(blank=True, upload_to="reports")),
                ("bytes", models.PositiveBigIntegerField(default=0)),
                ("sha256", models.CharField(blank=True, max_length=64)),
                ("refused", models.CharField(blank=True, max_length=300)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="report_batches",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "schedule",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="batches",
                        to="scheduling.reportschedule",
                    ),
                ),
            ],
            options={
                "ordering": ["-asked_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="RuleFailure",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("rule", models.CharField(max_length=40)),
                ("since", models.DateTimeField()),
                ("error", models.TextField()),
                ("attempts", models.PositiveIntegerField(default=1)),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="rule_failures",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "ordering": ["since", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("system", "rule"), name="one_failure_per_rule_and_system"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="RuleRun",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("done_at", models.DateTimeField(blank=True, null=True)),
                ("error", models.TextField(blank=True)),
                ("attempts", models.PositiveIntegerField(default=0)),
                (
                    "record",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="rule_run",
                        to="registry.record",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        condition=models.Q(("done_at__isnull", True)),
                        fields=["record"],
                        name="open_rule_runs",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="RuleSetting",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("rule", models.CharField(max_length=40)),
                ("is_on", models.BooleanField(default=True, verbose_name="on")),
                (
                    "days",
                    models.PositiveIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(3650),
                        ],
                    ),
                ),
                (
                    "points",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0.01),
                            django.core.validators.MaxValueValidator(100),
                        ],
                    ),
                ),
                ("changed_at", models.DateTimeField()),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="rule_settings",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["owner", "rule"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("owner", "rule"), name="one_setting_per_owner_and_rule"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SiteWinter",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("has_frost", models.BooleanField(default=True, verbose_name="It can freeze here")),
                (
                    "ready_by",
                    models.CharField(
                        default="10-31",
                        max_length=5,
                        validators=[scheduling.models.library.check_month_day],
                        verbose_name="Ready for frost by",
                    ),
                ),
                (
                    "over_from",
                    models.CharField(
                        default="04-15",
                        max_length=5,
                        validators=[scheduling.models.library.check_month_day],
                        verbose_name="Frost is over from",
                    ),
                ),
                (
                    "site",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="winter",
                        to="registry.site",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="SystemAnswer",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("condition", models.CharField(max_length=40)),
                ("answer", models.BooleanField()),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="answers",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("system", "condition"), name="one_answer_per_system_and_question"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="TaskEvent",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "what",
                    models.CharField(
                        choices=[
                            ("raised", "Raised"),
                            ("accepted", "Accepted"),
                            ("declined", "Declined"),
                            ("booked", "Booked"),
                            ("moved", "Moved"),
                            ("crewed", "Given to a crew"),
                            ("started", "Begun"),
                            ("cannot", "Cannot be done"),
                            ("reassigned", "Handed over"),
                            ("redated", "Due date changed"),
                            ("escalated", "Escalated"),
                            ("commented", "Comment"),
                            ("done", "Done"),
                            ("withdrawn", "Withdrawn"),
                            ("reopened", "Opened again"),
                        ],
                        max_length=12,
                    ),
                ),
                ("at", models.DateTimeField()),
                ("was", models.JSONField(blank=True, default=dict)),
                ("became", models.JSONField(blank=True, default=dict)),
                ("reason", models.TextField(blank=True)),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="task_events",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "task",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="trail",
                        to="scheduling.task",
                    ),
                ),
            ],
            options={
                "ordering": ["at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("what__in", ["declined", "cannot", "commented"]), _negated=True
                            ),
                            models.Q(("reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="declining_has_a_reason",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="WeekPlan",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("first_on", models.DateField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("asked", "Asked for"),
                            ("running", "Under way"),
                            ("done", "Done"),
                            ("failed", "Failed"),
                        ],
                        default="asked",
                        max_length=8,
                    ),
                ),
                ("turn", models.PositiveIntegerField(default=1)),
                ("asked_at", models.DateTimeField()),
                ("document", models.JSONField(blank=True, default=dict)),
                ("value", models.IntegerField(blank=True, null=True)),
                ("bound", models.IntegerField(blank=True, null=True)),
                ("said_at", models.DateTimeField(blank=True, null=True)),
                ("problem", models.CharField(blank=True, max_length=500)),
                (
                    "asked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "organisation",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="week_plans",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["-first_on", "organisation"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("organisation", "first_on"),
                        name="one_plan_per_organisation_and_week",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="WorkTime",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("kind", models.CharField(max_length=24)),
                (
                    "minutes",
                    models.PositiveIntegerField(
                        validators=[
                            django.core.validators.MinValueValidator(5),
                            django.core.validators.MaxValueValidator(1440),
                        ]
                    ),
                ),
                (
                    "minutes_per_m3",
                    models.FloatField(
                        default=0,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(600),
                        ],
                    ),
                ),
                ("skills", models.CharField(blank=True, max_length=200)),
                ("impairs", models.BooleanField(default=False)),
                (
                    "organisation",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="work_times",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["kind"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("organisation", "kind"),
                        name="one_work_time_per_organisation_and_kind",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="AdoptedEdition",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("edition", models.CharField(max_length=40)),
                ("adopted_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "adopted_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="adopted_editions",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "ended_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="ended_editions",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="adopted_editions",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "ordering": ["-adopted_at", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended_at__isnull", True)),
                        fields=("site", "edition"),
                        name="an_edition_is_adopted_once_per_site",
                    )
                ],
            },
        ),
    ]
