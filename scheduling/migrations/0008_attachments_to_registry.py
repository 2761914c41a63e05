from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("registry", "0003_readings"),
        ("scheduling", "0007_rules_as_data"),
    ]

    operations = [
        migrations.SeparateDatabaseAndState(
            # The table stays where it is, under a model of the registry.
            state_operations=[migrations.DeleteModel(name="Attachment")],
        ),
    ]
