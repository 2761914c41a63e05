from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("scheduling", "0011_attachments_to_registry"),
    ]

    operations = [
        migrations.AddField(
            model_name="mailpreference",
            name="wants_rule",
            field=models.BooleanField(
                default=True, verbose_name="When a rule could not be applied to a system"
            ),
        ),
        migrations.AlterField(
            model_name="message",
            name="kind",
            field=models.CharField(
                choices=[
                    ("assignment", "Follow-up given to your organisation"),
                    ("escalation", "Follow-up late"),
                    ("digest", "Weekly digest"),
                    ("job", "Job of the book given up"),
                    ("verdict", "Records that do not hold"),
                    ("package", "Package that you asked for"),
                    ("rule", "Rule that could not be applied"),
                    ("record.added", "Record added to a ledger"),
                    ("follow_up.assigned", "Follow-up assigned"),
                    ("follow_up.closed", "Follow-up closed"),
                    ("follow_up.late", "Follow-up late"),
                    ("trial", "Trial delivery"),
                ],
                max_length=24,
            ),
        ),
    ]
