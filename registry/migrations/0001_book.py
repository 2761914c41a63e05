"""Every table as it stands: the first year of changes in one step, a tenth of the time.

A book that has all that is named under `replaces` has this too. One that stopped in between is
brought on with the version it came from, then with this one.
"""

import uuid

import django.core.validators
import django.db.models.deletion
import django.db.models.expressions
from django.conf import settings
from django.db import migrations, models

import registry.models.access
import registry.models.imports
import registry.models.policy
import registry.models.sites


class Migration(migrations.Migration):
    replaces = [
        ("registry", "0001_initial"),
        ("registry", "0002_assessments"),
        ("registry", "0003_jobs_and_first_run"),
        ("registry", "0004_log"),
        ("registry", "0005_verdicts_packages_owner_ledger"),
        ("registry", "0006_registers_of_any_shape"),
        ("registry", "0007_bands_that_say_what_to_do"),
        ("registry", "0008_protection"),
        ("registry", "0009_readings"),
        ("registry", "0010_acceptance"),
        ("registry", "0011_proof_of_decisions"),
        ("registry", "0012_phone_entries"),
        ("registry", "0013_sign_at_the_riser"),
        ("registry", "0014_sign_ins"),
        ("registry", "0015_invitations_and_access_log"),
        ("registry", "0016_a_key_is_of_its_system"),
        ("registry", "0017_desk_prices_views_visits"),
        ("registry", "0020_person_language"),
    ]

    initial = True

    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        migrations.CreateModel(
            name="FirstCode",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("digest", models.CharField(max_length=64, unique=True)),
                ("made_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="KeptForAWhile",
            fields=[
                ("cache_key", models.CharField(max_length=255, primary_key=True, serialize=False)),
                ("value", models.TextField()),
                ("expires", models.DateTimeField(db_index=True)),
            ],
            options={
                "db_table": "registry_cache",
            },
        ),
        migrations.CreateModel(
            name="Organisation",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=150, unique=True)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("owner", "Owner"),
                            ("contractor", "Contractor"),
                            ("auditor", "Auditor"),
                        ],
                        max_length=10,
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
            },
        ),
        migrations.CreateModel(
            name="Site",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=150)),
                ("address", models.TextField(blank=True)),
                (
                    "time_zone",
                    models.CharField(
                        default="UTC",
                        help_text="IANA name, for example America/Chicago; due dates follow it.",
                        max_length=64,
                        validators=[registry.models.sites.check_time_zone],
                    ),
                ),
                (
                    "altitude_m",
                    models.FloatField(
                        default=0.0,
                        validators=[
                            django.core.validators.MinValueValidator(-430),
                            django.core.validators.MaxValueValidator(6000),
                        ],
                        verbose_name="altitude",
                    ),
                ),
                (
                    "water_temperature_k",
                    models.FloatField(
                        default=288.15,
                        validators=[
                            django.core.validators.MinValueValidator(273.15),
                            django.core.validators.MaxValueValidator(313.15),
                        ],
                        verbose_name="supply water temperature",
                    ),
                ),
                (
                    "measured_dissolved_oxygen_mg_l",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(30),
                        ],
                        verbose_name="measured dissolved oxygen of the supply",
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="sites",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("owner", "name"), name="one_site_of_a_name_per_owner"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="WorkerSign",
            fields=[
                ("name", models.CharField(max_length=100, primary_key=True, serialize=False)),
                ("started_at", models.DateTimeField()),
                ("seen_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-seen_at"],
            },
        ),
        migrations.CreateModel(
            name="User",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                (
                    "last_login",
                    models.DateTimeField(blank=True, null=True, verbose_name="last login"),
                ),
                (
                    "is_superuser",
                    models.BooleanField(
                        default=False,
                        help_text="Designates that this user has all permissions without explicitly assigning them.",
                        verbose_name="superuser status",
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "email",
                    models.EmailField(max_length=254, unique=True, verbose_name="e-mail address"),
                ),
                ("name", models.CharField(max_length=150)),
                (
                    "display_units",
                    models.CharField(
                        choices=[
                            ("us", "US customary (psi, ft, gal, °F)"),
                            ("si", "SI (bar, m, L, °C)"),
                        ],
                        default="us",
                        max_length=2,
                        verbose_name="units shown",
                    ),
                ),
                (
                    "language",
                    models.CharField(
                        blank=True,
                        help_text="Of pages, papers, mail and calendar feeds. What is recorded stays as written.",
                        max_length=10,
                        verbose_name="language",
                    ),
                ),
                ("is_active", models.BooleanField(default=True)),
                ("is_staff", models.BooleanField(default=False)),
                ("date_joined", models.DateTimeField(auto_now_add=True)),
                (
                    "groups",
                    models.ManyToManyField(
                        blank=True,
                        help_text="The groups this user belongs to. A user will get all permissions granted to each of their groups.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.group",
                        verbose_name="groups",
                    ),
                ),
                (
                    "user_permissions",
                    models.ManyToManyField(
                        blank=True,
                        help_text="Specific permissions for this user.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.permission",
                        verbose_name="user permissions",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="DiscardedEntry",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("what", models.CharField(max_length=500)),
                ("made_at", models.DateTimeField()),
                ("discarded_at", models.DateTimeField()),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="discarded_entries",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-discarded_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="Building",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=150)),
                ("access_note", models.CharField(blank=True, max_length=300)),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="buildings",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("site", "name"), name="one_building_of_a_name_per_site"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="System",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("tag", models.CharField(max_length=60)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("wet", "Wet pipe"),
                            ("dry", "Dry pipe"),
                            ("preaction", "Preaction"),
                            ("deluge", "Deluge"),
                            ("antifreeze", "Antifreeze"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "hazard",
                    models.CharField(
                        choices=[
                            ("light", "Light hazard"),
                            ("ordinary_1", "Ordinary hazard group 1"),
                            ("ordinary_2", "Ordinary hazard group 2"),
                            ("extra_1", "Extra hazard group 1"),
                            ("extra_2", "Extra hazard group 2"),
                            ("storage", "Storage"),
                            ("unknown", "Not recorded"),
                        ],
                        default="unknown",
                        max_length=12,
                    ),
                ),
                (
                    "design_pressure_gauge_pa",
                    models.FloatField(blank=True, null=True, verbose_name="design pressure"),
                ),
                (
                    "rated_pressure_gauge_pa",
                    models.FloatField(
                        default=1206582.5263044632,
                        verbose_name="rated working pressure of the weakest component",
                    ),
                ),
                (
                    "service_pressure_gauge_pa",
                    models.FloatField(
                        blank=True, null=True, verbose_name="usual pressure in service"
                    ),
                ),
                ("installed_on", models.DateField()),
                (
                    "installed_precision",
                    models.CharField(
                        choices=[
                            ("day", "Day"),
                            ("month", "Month only"),
                            ("quarter", "Quarter only"),
                            ("half", "Half-year only"),
                            ("year", "Year only"),
                            ("decade", "Decade only"),
                            ("about", "About that year"),
                            ("before", "Before that year"),
                        ],
                        default="day",
                        max_length=8,
                    ),
                ),
                (
                    "gas_supply",
                    models.CharField(
                        choices=[
                            ("unknown", "Not recorded"),
                            ("none", "None fitted"),
                            ("cylinders", "Nitrogen cylinders"),
                            ("generator", "Nitrogen generator"),
                            ("compressor", "Air compressor"),
                        ],
                        default="unknown",
                        max_length=12,
                    ),
                ),
                (
                    "supply_n2_percent",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(79.05),
                            django.core.validators.MaxValueValidator(100),
                        ],
                        verbose_name="nitrogen the supply delivers",
                    ),
                ),
                (
                    "generator_flow_m3_s",
                    models.FloatField(
                        blank=True,
                        help_text="Flow of the generator at standard conditions, where the pipe is swept.",
                        null=True,
                        verbose_name="nitrogen swept through an open vent",
                    ),
                ),
                (
                    "consequence_class",
                    models.PositiveSmallIntegerField(
                        default=3,
                        help_text="1 little depends on it … 5 lives or the whole business do.",
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(5),
                        ],
                    ),
                ),
                (
                    "volume_override_m3",
                    models.FloatField(blank=True, null=True, verbose_name="measured volume"),
                ),
                (
                    "volume_override_note",
                    models.CharField(
                        blank=True, max_length=200, verbose_name="how it was measured"
                    ),
                ),
                (
                    "leaks_known_since",
                    models.DateField(blank=True, null=True, verbose_name="leaks known since"),
                ),
                ("taken_back_at", models.DateTimeField(blank=True, editable=False, null=True)),
                (
                    "open_rows",
                    models.PositiveIntegerField(
                        default=0, editable=False, verbose_name="rows still to fix"
                    ),
                ),
                ("next_sequence", models.PositiveIntegerField(default=1, editable=False)),
                ("head_hash", models.CharField(blank=True, editable=False, max_length=64)),
                (
                    "building",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="systems",
                        to="registry.building",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="systems",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "ordering": ["site__name", "tag"],
                "indexes": [models.Index(fields=["tag"], name="registry_sy_tag_558a11_idx")],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("taken_back_at__isnull", True)),
                        fields=("site", "tag"),
                        name="one_system_of_a_tag_per_site",
                        violation_error_message="A system of this tag is at this site already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("rated_pressure_gauge_pa__gt", 0)),
                        name="rated_pressure_above_zero",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("volume_override_m3__isnull", True),
                            ("volume_override_m3__gt", 0),
                            _connector="OR",
                        ),
                        name="measured_volume_above_zero",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="InertingRun",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("opened_at", models.DateTimeField()),
                ("plan", models.JSONField(default=dict)),
                ("target_n2_percent", models.FloatField()),
                ("feed_n2_percent", models.FloatField()),
                ("fill_pressure_gauge_pa", models.FloatField()),
                ("start_n2_percent", models.FloatField()),
                ("volume_m3", models.FloatField()),
                ("temperature_k", models.FloatField(default=294.25)),
                (
                    "analyser",
                    models.CharField(blank=True, max_length=120, verbose_name="gas analyser"),
                ),
                (
                    "analyser_calibrated_on",
                    models.DateField(blank=True, null=True, verbose_name="analyser calibrated"),
                ),
                (
                    "status",
                    models.CharField(
                        choices=[
                            ("open", "Under way"),
                            ("accepted", "Reading accepted"),
                            ("returned", "Back in service"),
                            ("stopped", "Stopped"),
                        ],
                        default="open",
                        max_length=10,
                    ),
                ),
                ("client_key", models.UUIDField(blank=True, null=True)),
                (
                    "opened_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inerting_runs",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inerting_runs",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "ordering": ["-opened_at"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("system", "client_key"), name="one_run_per_key"
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("status__in", ["open", "accepted"])),
                        fields=("system",),
                        name="one_unfinished_run_per_system",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LastVisit",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("began_at", models.DateTimeField()),
                ("seen_at", models.DateTimeField()),
                ("before_at", models.DateTimeField(blank=True, null=True)),
                (
                    "user",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="last_visit",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Membership",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("manager", "Manager: sets up sites and systems, imports, records"),
                            ("recorder", "Recorder: logs events, readings and runs"),
                            ("reader", "Reader: reads and exports"),
                        ],
                        default="reader",
                        max_length=10,
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="memberships",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "organisation",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="memberships",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("user", "organisation"), name="one_role_per_person_and_organisation"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Job",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("kind", models.CharField(max_length=60)),
                ("key", models.CharField(blank=True, max_length=100)),
                ("arguments", models.JSONField(blank=True, default=dict)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "Waiting"),
                            ("running", "Running"),
                            ("paused", "Failed, to be tried again"),
                            ("done", "Done"),
                            ("given_up", "Given up"),
                        ],
                        default="waiting",
                        max_length=8,
                    ),
                ),
                ("asked_at", models.DateTimeField()),
                ("run_after", models.DateTimeField()),
                ("attempts", models.PositiveSmallIntegerField(default=0)),
                ("claim", models.UUIDField(blank=True, editable=False, null=True)),
                ("worker", models.CharField(blank=True, max_length=100)),
                ("started_at", models.DateTimeField(blank=True, null=True)),
                ("heartbeat_at", models.DateTimeField(blank=True, null=True)),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "done",
                    models.PositiveIntegerField(default=0, help_text="Pieces of work so far."),
                ),
                ("outcome", models.CharField(blank=True, max_length=300)),
                ("error", models.CharField(blank=True, max_length=300)),
                (
                    "owner",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="jobs",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["-asked_at", "-pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("state__in", ["waiting", "running", "paused"])),
                        fields=["run_after"],
                        name="jobs_to_run",
                    ),
                    models.Index(fields=["ended_at"], name="registry_jo_ended_a_5cf26a_idx"),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("state", "waiting")),
                        fields=("kind", "key"),
                        name="one_job_of_a_key_waits",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("state__in", ["running", "paused"])),
                        fields=("kind", "key"),
                        name="one_job_of_a_key_runs",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ImportShape",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("digest", models.CharField(max_length=32)),
                ("headings", models.JSONField(default=list)),
                ("file_name", models.CharField(max_length=200)),
                ("answers", models.JSONField(default=dict)),
                ("used_at", models.DateTimeField()),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="import_shapes",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["-used_at"],
                "constraints": [
                    models.UniqueConstraint(fields=("owner", "digest"), name="one_answer_per_shape")
                ],
            },
        ),
        migrations.CreateModel(
            name="ImportBatch",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uploaded_at", models.DateTimeField()),
                ("file", models.FileField(upload_to=registry.models.imports.import_path)),
                ("file_name", models.CharField(max_length=200)),
                (
                    "to_fix_file",
                    models.FileField(blank=True, upload_to=registry.models.imports.import_path),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("check_waiting", "Waiting to be read"),
                            ("checking", "Being read"),
                            ("checked", "Read; nothing is loaded yet"),
                            ("load_waiting", "Waiting to be loaded"),
                            ("loading", "Being loaded"),
                            ("loaded", "Loaded"),
                            ("failed", "Could not be read"),
                            ("taken_back", "Taken back"),
                        ],
                        default="check_waiting",
                        max_length=16,
                    ),
                ),
                ("answers", models.JSONField(default=dict)),
                ("outcome", models.JSONField(default=dict)),
                ("error", models.TextField(blank=True)),
                ("rows_total", models.PositiveIntegerField(default=0)),
                ("rows_read", models.PositiveIntegerField(default=0)),
                ("heartbeat_at", models.DateTimeField(blank=True, null=True)),
                ("load_started_at", models.DateTimeField(blank=True, null=True)),
                ("attempts", models.PositiveSmallIntegerField(default=0)),
                ("taken_back_at", models.DateTimeField(blank=True, null=True)),
                (
                    "loaded_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="loaded_imports",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "taken_back_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="taken_back_imports",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "uploaded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="imports",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="imports",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "import batches",
                "ordering": ["-uploaded_at"],
            },
        ),
        migrations.CreateModel(
            name="AccessEntry",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField()),
                ("by_name", models.CharField(blank=True, max_length=320)),
                ("subject", models.CharField(max_length=12)),
                ("key", models.CharField(max_length=100)),
                (
                    "change",
                    models.CharField(
                        choices=[
                            ("found", "found so when the log began"),
                            ("given", "given"),
                            ("changed", "changed"),
                            ("ended", "ended"),
                        ],
                        max_length=8,
                    ),
                ),
                ("facts", models.JSONField(default=dict)),
                ("words", models.JSONField(default=dict)),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "organisation",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="access_log",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "access entries",
                "ordering": ["-pk"],
                "indexes": [
                    models.Index(
                        fields=["organisation", "subject", "key"],
                        name="registry_ac_organis_82ec6c_idx",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="OwnerLedger",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("next_sequence", models.PositiveIntegerField(default=1, editable=False)),
                ("head_hash", models.CharField(blank=True, editable=False, max_length=64)),
                (
                    "owner",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="ledger",
                        to="registry.organisation",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="OwnerLog",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("origin", models.CharField(editable=False, max_length=200, unique=True)),
                ("size", models.PositiveBigIntegerField(default=0, editable=False)),
                ("owner_records", models.PositiveIntegerField(default=0, editable=False)),
                (
                    "owner",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="log",
                        to="registry.organisation",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="LogWitness",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("url", models.URLField(max_length=300)),
                ("vkey", models.CharField(max_length=300)),
                ("size", models.PositiveBigIntegerField(default=0, editable=False)),
                ("asked_at", models.DateTimeField(blank=True, null=True)),
                ("error", models.CharField(blank=True, max_length=300)),
                (
                    "log",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="witnesses",
                        to="registry.ownerlog",
                    ),
                ),
            ],
            options={
                "ordering": ["log", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("log", "vkey"), name="one_place_per_witness")
                ],
            },
        ),
        migrations.CreateModel(
            name="LogNode",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("level", models.PositiveSmallIntegerField()),
                ("number", models.PositiveBigIntegerField()),
                ("hash", models.CharField(max_length=64)),
                (
                    "log",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="nodes",
                        to="registry.ownerlog",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("log", "level", "number"), name="one_node_per_place"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="LogKey",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("vkey", models.CharField(editable=False, max_length=300, unique=True)),
                ("sealed_seed", models.TextField(editable=False)),
                ("made_at", models.DateTimeField()),
                (
                    "reason",
                    models.CharField(
                        choices=[
                            ("first", "The first key"),
                            ("rotated", "Another key in place of the one before"),
                            (
                                "restored",
                                "The book was restored from a backup: a new epoch of the log",
                            ),
                        ],
                        default="first",
                        max_length=8,
                    ),
                ),
                ("size", models.PositiveBigIntegerField(default=0, editable=False)),
                ("note", models.TextField(blank=True, editable=False)),
                (
                    "log",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="keys",
                        to="registry.ownerlog",
                    ),
                ),
            ],
            options={
                "ordering": ["log", "pk"],
            },
        ),
        migrations.CreateModel(
            name="LogCheckpoint",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("size", models.PositiveBigIntegerField()),
                ("note", models.TextField()),
                ("made_at", models.DateTimeField()),
                (
                    "log",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="checkpoints",
                        to="registry.ownerlog",
                    ),
                ),
            ],
            options={
                "ordering": ["log", "size"],
                "constraints": [
                    models.UniqueConstraint(fields=("log", "size"), name="one_checkpoint_per_size")
                ],
            },
        ),
        migrations.CreateModel(
            name="OwnerPolicy",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "target_n2_percent",
                    models.FloatField(
                        default=98.0,
                        validators=[
                            django.core.validators.MinValueValidator(80),
                            django.core.validators.MaxValueValidator(99.99),
                        ],
                    ),
                ),
                (
                    "confirming_days",
                    models.JSONField(default=registry.models.policy.default_confirming_days),
                ),
                ("confirming_repeat_days", models.PositiveIntegerField(default=365)),
                (
                    "acceptance_wait_minutes",
                    models.PositiveIntegerField(
                        default=0,
                        validators=[django.core.validators.MaxValueValidator(1440)],
                        verbose_name="wait between fill and reading",
                    ),
                ),
                (
                    "acceptance_points",
                    models.PositiveSmallIntegerField(
                        default=1,
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(20),
                        ],
                        verbose_name="points to be read at target",
                    ),
                ),
                (
                    "acceptance_hold_minutes",
                    models.PositiveIntegerField(
                        default=0,
                        validators=[django.core.validators.MaxValueValidator(1440)],
                        verbose_name="pressure to be held for",
                    ),
                ),
                (
                    "acceptance_hold_fall_pa",
                    models.FloatField(
                        default=3447.3786465841804,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(100000),
                        ],
                        verbose_name="with a fall of at most",
                    ),
                ),
                ("order_within_days", models.PositiveIntegerField(default=14)),
                ("confirm_within_days", models.PositiveIntegerField(default=7)),
                (
                    "owner",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="policy",
                        to="registry.organisation",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="OwnerPrices",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "currency",
                    models.CharField(
                        blank=True,
                        help_text="As you write it before an amount. The book does not guess it.",
                        max_length=12,
                        verbose_name="currency",
                    ),
                ),
                (
                    "leak_incident",
                    models.PositiveIntegerField(
                        blank=True,
                        help_text="Repair, water, stock and time lost, on average of your leaks.",
                        null=True,
                        validators=[django.core.validators.MaxValueValidator(1000000000)],
                        verbose_name="one leak, with all that it ruins",
                    ),
                ),
                (
                    "reinerting_visit",
                    models.PositiveIntegerField(
                        blank=True,
                        help_text="Travel, hours and nitrogen, on average.",
                        null=True,
                        validators=[django.core.validators.MaxValueValidator(1000000000)],
                        verbose_name="one visit to make a system inert",
                    ),
                ),
                (
                    "replacement_per_m",
                    models.JSONField(
                        blank=True, default=dict, help_text="Price of a metre by nominal size."
                    ),
                ),
                (
                    "owner",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="prices",
                        to="registry.organisation",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="OwnerRecord",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("sequence", models.PositiveIntegerField()),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("subject", models.CharField(max_length=20)),
                ("key", models.CharField(max_length=200)),
                (
                    "change",
                    models.CharField(
                        choices=[
                            ("begun", "The ledger begins"),
                            ("entered", "Entered"),
                            ("changed", "Changed"),
                            ("removed", "Taken away"),
                        ],
                        max_length=8,
                    ),
                ),
                ("facts", models.JSONField(default=dict)),
                ("recorded_at", models.DateTimeField()),
                ("previous_hash", models.CharField(blank=True, max_length=64)),
                ("hash", models.CharField(max_length=64)),
                (
                    "ledger",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="records",
                        to="registry.ownerledger",
                    ),
                ),
                (
                    "recorded_by",
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
                "ordering": ["ledger", "sequence"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("ledger", "sequence"), name="one_owner_record_per_sequence"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="OwnerVerdict",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("checked_at", models.DateTimeField()),
                ("systems", models.PositiveIntegerField()),
                ("records", models.PositiveIntegerField()),
                ("differing_systems", models.PositiveIntegerField(default=0)),
                ("log_differences", models.JSONField(blank=True, default=list)),
                ("failing_since", models.DateTimeField(blank=True, null=True)),
                (
                    "owner",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="verdict",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["owner"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("differing_systems__lte", models.F("systems"))),
                        name="differing_systems_are_among_those_checked",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Record",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("sequence", models.PositiveIntegerField()),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("kind", models.CharField(max_length=40)),
                ("occurred_at", models.DateTimeField(db_index=True)),
                ("recorded_at", models.DateTimeField()),
                ("details", models.JSONField(default=dict)),
                ("note", models.TextField(blank=True)),
                ("client_key", models.UUIDField(blank=True, null=True)),
                ("previous_hash", models.CharField(blank=True, max_length=64)),
                ("hash", models.CharField(max_length=64)),
                (
                    "inerting_run",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="records",
                        to="registry.inertingrun",
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="records",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "supersedes",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="superseded_by",
                        to="registry.record",
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="records",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "ordering": ["system", "sequence"],
                "indexes": [
                    models.Index(
                        fields=["system", "occurred_at"], name="registry_re_system__fe3b16_idx"
                    )
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("system", "sequence"), name="one_record_per_sequence"
                    ),
                    models.UniqueConstraint(
                        fields=("system", "client_key"), name="one_record_per_key"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LogLeaf",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveBigIntegerField()),
                ("hash", models.CharField(max_length=64)),
                (
                    "log",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="leaves",
                        to="registry.ownerlog",
                    ),
                ),
                (
                    "owner_record",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="log_leaf",
                        to="registry.ownerrecord",
                    ),
                ),
                (
                    "record",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="log_leaf",
                        to="registry.record",
                    ),
                ),
            ],
            options={
                "ordering": ["log", "number"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("log", "number"), name="one_record_per_log_number"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("owner_record__isnull", True), ("record__isnull", False)),
                            models.Q(("owner_record__isnull", False), ("record__isnull", True)),
                            _connector="OR",
                        ),
                        name="a_leaf_is_of_one_record",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="KeptEntry",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("client_key", models.UUIDField()),
                ("fingerprint", models.CharField(max_length=64)),
                ("held_s", models.FloatField(default=0.0)),
                ("seen_sequence", models.PositiveIntegerField(blank=True, null=True)),
                ("is_seen_here", models.BooleanField(default=True)),
                ("unknown", models.JSONField(default=list)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="kept_entries",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "record",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="kept_entry",
                        to="registry.record",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("person", "client_key"), name="one_kept_entry_per_key"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="RecordPackage",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("asked_at", models.DateTimeField()),
                ("sites", models.JSONField(blank=True, default=list)),
                ("systems", models.JSONField(blank=True, default=list)),
                ("kinds", models.JSONField(blank=True, default=list)),
                ("since", models.DateTimeField(blank=True, null=True)),
                ("until", models.DateTimeField(blank=True, null=True)),
                ("records", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField(blank=True, null=True)),
                ("file", models.FileField(blank=True, upload_to="packages")),
                ("bytes", models.PositiveBigIntegerField(default=0)),
                ("manifest_sha256", models.CharField(blank=True, max_length=64)),
                ("refused", models.JSONField(blank=True, default=list)),
                (
                    "asked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="packages",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="packages",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["-asked_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="PackageLink",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("label", models.CharField(max_length=80, verbose_name="For whom")),
                ("digest", models.CharField(editable=False, max_length=64, unique=True)),
                ("made_at", models.DateTimeField()),
                ("expires_at", models.DateTimeField()),
                ("revoked_at", models.DateTimeField(blank=True, null=True)),
                ("fetched", models.PositiveIntegerField(default=0, editable=False)),
                ("last_fetched_at", models.DateTimeField(blank=True, editable=False, null=True)),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "package",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="links",
                        to="registry.recordpackage",
                    ),
                ),
            ],
            options={
                "ordering": ["-made_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="SavedView",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("name", models.CharField(max_length=40, verbose_name="name of the view")),
                ("query", models.CharField(blank=True, max_length=1000)),
                ("made_at", models.DateTimeField()),
                (
                    "made_by",
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
                        related_name="saved_views",
                        to="registry.organisation",
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("organisation", "name"), name="one_view_of_a_name_per_organisation"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SignIn",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "account",
                    models.CharField(
                        help_text="digest of the address that was typed", max_length=64
                    ),
                ),
                (
                    "what",
                    models.CharField(
                        choices=[
                            ("tried", "Password being checked"),
                            ("in", "Signed in"),
                            ("half", "Password right, second step not taken"),
                            ("wrong", "Wrong password"),
                            ("wrong-code", "Wrong code of the second step"),
                            ("limited", "Refused: too many wrong passwords"),
                            ("proved", "Said again who they are"),
                            ("out", "Signed out"),
                            ("ended", "Session ended from another one"),
                            ("idle", "Signed out: nothing done for too long"),
                            ("over", "Signed out: signed in for too long"),
                            ("reset-asked", "New password asked for by mail"),
                            ("reset", "Password set anew by mail"),
                            ("password", "Password changed"),
                            ("added", "Way of signing in added"),
                            ("removed", "Way of signing in removed"),
                            ("codes", "New recovery codes made"),
                        ],
                        max_length=12,
                    ),
                ),
                ("how", models.CharField(blank=True, max_length=120)),
                ("address", models.CharField(blank=True, max_length=45)),
                ("browser", models.CharField(blank=True, max_length=200)),
                ("at", models.DateTimeField()),
                (
                    "person",
                    models.ForeignKey(
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="sign_ins",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "indexes": [
                    models.Index(fields=["account", "at"], name="sign_in_by_account"),
                    models.Index(fields=["address", "at"], name="sign_in_by_address"),
                    models.Index(fields=["person", "-at"], name="sign_in_by_person"),
                    models.Index(fields=["at"], name="sign_in_by_time"),
                ],
            },
        ),
        migrations.CreateModel(
            name="SignSettings",
            fields=[
                (
                    "site",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="sign_settings",
                        serialize=False,
                        to="registry.site",
                    ),
                ),
                (
                    "languages",
                    models.CharField(
                        choices=[("en", "English"), ("en es", "English and Spanish")],
                        default="en",
                        max_length=20,
                        verbose_name="languages of the signs",
                    ),
                ),
                (
                    "owner_telephone",
                    models.CharField(
                        blank=True, max_length=40, verbose_name="telephone of the owner"
                    ),
                ),
                (
                    "contractor_telephone",
                    models.CharField(
                        blank=True, max_length=40, verbose_name="telephone of the contractor"
                    ),
                ),
                (
                    "contractor",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="registry.organisation",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ServiceContract",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("starts_on", models.DateField()),
                ("ends_on", models.DateField(blank=True, null=True)),
                (
                    "contractor",
                    models.ForeignKey(
                        limit_choices_to={"kind": "contractor"},
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="service_contracts",
                        to="registry.organisation",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="service_contracts",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ends_on__isnull", True),
                            ("ends_on__gte", models.F("starts_on")),
                            _connector="OR",
                        ),
                        name="contract_ends_after_it_starts",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Invitation",
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
                            ("member", "A person of ours"),
                            ("contractor", "A contractor"),
                            ("auditor", "An auditor or insurer"),
                            ("owner", "An owner whose sites we serve"),
                        ],
                        max_length=10,
                    ),
                ),
                ("email", models.EmailField(max_length=254, verbose_name="e-mail address")),
                (
                    "role",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("manager", "Manager: sets up sites and systems, imports, records"),
                            ("recorder", "Recorder: logs events, readings and runs"),
                            ("reader", "Reader: reads and exports"),
                        ],
                        max_length=10,
                    ),
                ),
                ("starts_on", models.DateField(blank=True, null=True)),
                ("ends_on", models.DateField(blank=True, null=True)),
                (
                    "nonce",
                    models.CharField(
                        default=registry.models.access.new_nonce, editable=False, max_length=64
                    ),
                ),
                ("digest", models.CharField(editable=False, max_length=64, unique=True)),
                ("invited_at", models.DateTimeField()),
                ("sent_at", models.DateTimeField(blank=True, null=True)),
                ("expires_at", models.DateTimeField()),
                ("accepted_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                (
                    "accepted_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="accepted_invitations",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "invited_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="invited",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "accepted_for",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="accepted_invitations",
                        to="registry.organisation",
                    ),
                ),
                (
                    "organisation",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="invitations",
                        to="registry.organisation",
                    ),
                ),
                ("sites", models.ManyToManyField(blank=True, related_name="+", to="registry.site")),
            ],
            options={
                "ordering": ["-invited_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("accepted_at__isnull", True),
                            ("withdrawn_at__isnull", True),
                            _connector="OR",
                        ),
                        name="invitation_accepted_or_withdrawn",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ends_on__isnull", True),
                            ("starts_on__isnull", True),
                            ("ends_on__gte", models.F("starts_on")),
                            _connector="OR",
                        ),
                        name="invited_contract_ends_after_it_starts",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="AuditAccess",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "ends_on",
                    models.DateField(
                        blank=True,
                        help_text="It ends with that day, by UTC.",
                        null=True,
                        verbose_name="last day",
                    ),
                ),
                ("has_all_sites", models.BooleanField(default=True, verbose_name="all sites")),
                ("happened_from", models.DateTimeField(blank=True, null=True)),
                ("happened_before", models.DateTimeField(blank=True, null=True)),
                (
                    "auditor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="audit_access_held",
                        to="registry.organisation",
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="audit_access_given",
                        to="registry.organisation",
                    ),
                ),
                (
                    "sites",
                    models.ManyToManyField(
                        blank=True, related_name="audit_access", to="registry.site"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("owner", "auditor"), name="one_audit_access_per_pair"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("happened_from__isnull", True),
                            ("happened_before__isnull", True),
                            ("happened_from__lt", models.F("happened_before")),
                            _connector="OR",
                        ),
                        name="audited_period_ends_after_it_begins",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SignUse",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.CharField(max_length=80)),
                ("hour", models.DateTimeField()),
                ("count", models.PositiveIntegerField(default=0)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("key", "hour"), name="one_count_per_key_and_hour"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="RowToFix",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.CharField(max_length=16)),
                ("source", models.CharField(max_length=200, verbose_name="file")),
                ("row", models.CharField(max_length=120)),
                ("wrong", models.CharField(max_length=500)),
                ("typed", models.JSONField(default=dict)),
                ("found_at", models.DateTimeField()),
                ("settled_at", models.DateTimeField(blank=True, null=True)),
                ("settled_note", models.CharField(blank=True, max_length=200)),
                (
                    "settled_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="settled_rows",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="rows_to_fix",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "rows to fix",
                "ordering": ["pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("settled_at__isnull", True)),
                        fields=["system"],
                        name="rows_to_fix_open",
                    )
                ],
                "constraints": [
                    models.UniqueConstraint(fields=("system", "key"), name="one_row_to_fix")
                ],
            },
        ),
        migrations.CreateModel(
            name="RiserSign",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("digest", models.CharField(editable=False, max_length=64, unique=True)),
                ("content", models.CharField(editable=False, max_length=64)),
                ("made_at", models.DateTimeField()),
                ("from_sequence", models.PositiveIntegerField()),
                ("put_up_at", models.DateTimeField(blank=True, null=True)),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "put_up_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="riser_signs",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "ordering": ["-made_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="ProtectionSpan",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("starts_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("in_service", "In service"),
                            ("impaired", "Impaired"),
                            ("not_known", "Not known"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "state_since",
                    models.DateTimeField(help_text="A new span need not be a change of state."),
                ),
                ("reason_code", models.CharField(max_length=60)),
                ("reason", models.CharField(max_length=600)),
                ("areas", models.CharField(blank=True, max_length=400)),
                ("is_planned", models.BooleanField(default=False)),
                (
                    "cause",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="protection_spans",
                        to="registry.record",
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="protection_spans",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "ordering": ["system", "starts_at"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("system", "starts_at"), name="one_protection_span_per_instant"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="PipeRun",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("riser", "Riser"),
                            ("feed_main", "Feed main"),
                            ("cross_main", "Cross main"),
                            ("branch_line", "Branch line"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "material",
                    models.CharField(
                        choices=[
                            ("black_steel", "Black steel"),
                            ("galvanized_steel", "Galvanized steel"),
                            ("stainless_steel", "Stainless steel"),
                            ("copper", "Copper"),
                            ("cpvc", "CPVC"),
                        ],
                        max_length=16,
                    ),
                ),
                ("schedule", models.CharField(blank=True, max_length=12)),
                ("nominal_size", models.CharField(max_length=8)),
                ("outside_diameter_mm", models.FloatField()),
                ("wall_mm", models.FloatField()),
                (
                    "wall_basis",
                    models.CharField(
                        choices=[("table", "From the pipe table"), ("given", "Given")],
                        default="table",
                        max_length=5,
                    ),
                ),
                ("length_m", models.FloatField()),
                (
                    "joint",
                    models.CharField(
                        choices=[
                            ("unknown", "Not recorded"),
                            ("threaded", "Threaded"),
                            ("roll_grooved", "Grooved, rolled"),
                            ("cut_grooved", "Grooved, cut"),
                            ("welded", "Welded"),
                        ],
                        default="unknown",
                        max_length=12,
                    ),
                ),
                ("installed_on", models.DateField()),
                (
                    "installed_precision",
                    models.CharField(
                        choices=[
                            ("day", "Day"),
                            ("month", "Month only"),
                            ("quarter", "Quarter only"),
                            ("half", "Half-year only"),
                            ("year", "Year only"),
                            ("decade", "Decade only"),
                            ("about", "About that year"),
                            ("before", "Before that year"),
                        ],
                        default="day",
                        max_length=8,
                    ),
                ),
                ("is_withdrawn", models.BooleanField(default=False)),
                (
                    "supersedes",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="superseded_by",
                        to="registry.piperun",
                    ),
                ),
                (
                    "record",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="pipe_run",
                        to="registry.record",
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="pipe_runs",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "ordering": ["system", "role", "-outside_diameter_mm", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("length_m__gt", 0)), name="pipe_length_above_zero"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("wall_mm__gt", 0),
                            (
                                "outside_diameter_mm__gt",
                                django.db.models.expressions.CombinedExpression(
                                    models.Value(2), "*", models.F("wall_mm")
                                ),
                            ),
                        ),
                        name="pipe_has_a_wall_and_a_bore",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LoggedSystem",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("count", models.PositiveIntegerField()),
                (
                    "system",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="logged",
                        to="registry.system",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Fitting",
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
                            ("vent", "Vent"),
                            ("injection_port", "Injection port"),
                            ("main_drain", "Main drain"),
                            ("auxiliary_drain", "Auxiliary drain"),
                            ("low_point_drain", "Low-point drain"),
                            ("gauge", "Gauge"),
                            ("compressor", "Air compressor"),
                            ("generator", "Nitrogen generator"),
                            ("analyser", "Gas analyser"),
                            ("backflow_preventer", "Backflow preventer"),
                            ("control_valve", "Control valve"),
                            ("fire_connection", "Fire department connection"),
                            ("remote_point", "Remote vent or zone"),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "label",
                    models.CharField(
                        blank=True,
                        help_text="As it hangs there, or is on the drawing.",
                        max_length=80,
                        verbose_name="tag",
                    ),
                ),
                (
                    "order",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        help_text="Which is worked first, where several of a kind are worked in turn.",
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(99),
                        ],
                    ),
                ),
                ("location", models.CharField(blank=True, max_length=200)),
                (
                    "serial",
                    models.CharField(blank=True, max_length=80, verbose_name="serial number"),
                ),
                (
                    "calibrated_on",
                    models.DateField(blank=True, null=True, verbose_name="last calibrated"),
                ),
                ("fitted_on", models.DateField(blank=True, null=True, verbose_name="fitted")),
                ("removed_on", models.DateField(blank=True, null=True, verbose_name="taken out")),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="fittings",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "ordering": ["kind", models.OrderBy(models.F("order"), nulls_last=True), "label"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("removed_on__isnull", True),
                            ("fitted_on__isnull", True),
                            ("removed_on__gte", models.F("fitted_on")),
                            _connector="OR",
                        ),
                        name="fitting_removed_after_it_was_fitted",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Attachment",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("name", models.CharField(max_length=120)),
                ("content_type", models.CharField(max_length=40)),
                ("size", models.PositiveIntegerField()),
                ("sha256", models.CharField(max_length=64)),
                ("stored_as", models.CharField(editable=False, max_length=120, unique=True)),
                ("uploaded_at", models.DateTimeField()),
                ("erased_at", models.DateTimeField(blank=True, editable=False, null=True)),
                (
                    "uploaded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "record",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="registry.record",
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "db_table": "scheduling_attachment",
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="AtmosphereSpan",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("starts_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("inert", "Inert"),
                            ("in_doubt", "In doubt"),
                            ("aerated", "Aerated"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "state_since",
                    models.DateTimeField(help_text="A new span need not be a change of state."),
                ),
                ("reason_code", models.CharField(max_length=60)),
                ("reason", models.CharField(max_length=400)),
                ("oxygen_low", models.FloatField()),
                ("oxygen_mid", models.FloatField()),
                ("oxygen_high", models.FloatField()),
                (
                    "cause",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="spans",
                        to="registry.record",
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="spans",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "ordering": ["system", "starts_at"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("system", "starts_at"), name="one_span_per_instant"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Assessment",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("model_version", models.CharField(max_length=12)),
                ("as_of", models.DateField(help_text="Assessed as at the end of this day, UTC.")),
                ("assessed_at", models.DateTimeField()),
                ("is_latest", models.BooleanField(default=True)),
                (
                    "digest",
                    models.CharField(help_text="Of what went in, time apart.", max_length=64),
                ),
                (
                    "basis",
                    models.CharField(
                        choices=[
                            ("ledger", "Oxygen ledger and field evidence"),
                            (
                                "evidence",
                                "Field evidence only: the pipe is outside the oxygen model",
                            ),
                            ("none", "Outside the oxygen model, and no field evidence"),
                        ],
                        max_length=8,
                    ),
                ),
                ("score", models.FloatField(null=True)),
                (
                    "band",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("leave", "Leave"),
                            ("watch", "Watch"),
                            ("plan", "Plan"),
                            ("act", "Act"),
                        ],
                        max_length=8,
                    ),
                ),
                ("likelihood", models.PositiveSmallIntegerField(null=True)),
                ("leak_in_1_yr", models.FloatField(null=True)),
                ("leak_in_5_yr", models.FloatField(null=True)),
                ("leak_in_10_yr", models.FloatField(null=True)),
                ("hazard_5_yr", models.FloatField(null=True)),
                ("life_low_yr", models.FloatField(null=True)),
                ("life_mid_yr", models.FloatField(null=True)),
                ("life_high_yr", models.FloatField(null=True)),
                ("delay_points_per_week", models.FloatField(null=True)),
                ("delay_um_per_week", models.FloatField(null=True)),
                ("reasons", models.JSONField(default=list)),
                ("runs", models.JSONField(default=list)),
                ("evidence", models.JSONField(default=dict)),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="assessments",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "ordering": ["system", "-as_of", "-pk"],
                "indexes": [
                    models.Index(fields=["system", "as_of"], name="registry_as_system__3927c8_idx"),
                    models.Index(
                        condition=models.Q(("is_latest", True)),
                        fields=["-score", "system"],
                        name="latest_by_score",
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("is_latest", True)),
                        fields=("system",),
                        name="one_latest_assessment_per_system",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("score__isnull", True),
                            models.Q(("score__gte", 0), ("score__lte", 100)),
                            _connector="OR",
                        ),
                        name="score_from_0_to_100",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("band", ""), ("basis", "none"), ("score__isnull", True)),
                            models.Q(
                                models.Q(("basis", "none"), _negated=True),
                                ("score__isnull", False),
                                models.Q(("band", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="a_score_unless_nothing_is_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("leak_in_1_yr__isnull", True),
                            models.Q(
                                ("leak_in_10_yr__lte", 1),
                                ("leak_in_1_yr__gte", 0),
                                ("leak_in_1_yr__lte", models.F("leak_in_5_yr")),
                                ("leak_in_5_yr__lte", models.F("leak_in_10_yr")),
                            ),
                            _connector="OR",
                        ),
                        name="leak_probabilities_grow_with_time",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Telling",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("what", models.CharField(max_length=20)),
                ("words", models.TextField(blank=True)),
                ("contact", models.CharField(blank=True, max_length=120)),
                ("salt", models.CharField(blank=True, editable=False, max_length=64)),
                ("sha256", models.CharField(blank=True, editable=False, max_length=64)),
                ("client_key", models.UUIDField(default=uuid.uuid4, editable=False)),
                ("told_at", models.DateTimeField()),
                ("erased_at", models.DateTimeField(blank=True, null=True)),
                (
                    "erased_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "record",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tellings",
                        to="registry.record",
                    ),
                ),
                (
                    "sign",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tellings",
                        to="registry.risersign",
                    ),
                ),
            ],
            options={
                "ordering": ["told_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("erased_at__isnull", True),
                            models.Q(("contact", ""), ("salt", ""), ("words", "")),
                            _connector="OR",
                        ),
                        name="erased_telling_holds_nothing",
                    ),
                    models.UniqueConstraint(
                        fields=("sign", "client_key"), name="one_telling_per_key"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Verdict",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("checked_at", models.DateTimeField()),
                ("records", models.PositiveIntegerField()),
                ("differences", models.JSONField(blank=True, default=list)),
                (
                    "system",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="verdict",
                        to="registry.system",
                    ),
                ),
            ],
            options={
                "ordering": ["system"],
            },
        ),
        migrations.AddField(
            model_name="organisation",
            name="people",
            field=models.ManyToManyField(
                related_name="organisations",
                through="registry.Membership",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
    ]
