from django.db import migrations, models

from scheduling.models.uids import occurrence_uids


def name_occurrences(apps, schema_editor):
    """Each by the day it is due; of two on one day the first keeps the plain name."""
    occurrences = apps.get_model("scheduling", "Occurrence").objects
    taken = set()
    for row in occurrences.select_related("item__system").order_by("pk").iterator(chunk_size=2000):
        names = occurrence_uids(row.item.system.uuid, row.item.key, row.due_on)
        row.uuid = next(name for name in names if name not in taken)
        taken.add(row.uuid)
        occurrences.filter(pk=row.pk).update(uuid=row.uuid)


class Migration(migrations.Migration):
    dependencies = [("scheduling", "0004_work_states")]

    operations = [
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
        migrations.AddField("feedtoken", "with_tasks", models.BooleanField(default=True)),
        migrations.AddField("feedtoken", "with_recurring", models.BooleanField(default=False)),
        migrations.AddField("feedtoken", "with_impairments", models.BooleanField(default=False)),
        migrations.AddField(
            "feedtoken",
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
        migrations.AddConstraint(
            "feedtoken",
            models.CheckConstraint(
                condition=models.Q(
                    ("with_tasks", True),
                    ("with_recurring", True),
                    ("with_impairments", True),
                    _connector="OR",
                ),
                name="feed_holds_something",
            ),
        ),
        migrations.AddField("occurrence", "uuid", models.UUIDField(editable=False, null=True)),
        migrations.RunPython(name_occurrences, migrations.RunPython.noop),
        migrations.AlterField("occurrence", "uuid", models.UUIDField(editable=False, unique=True)),
    ]
