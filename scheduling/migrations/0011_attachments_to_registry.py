from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("registry", "0009_readings"),
        ("scheduling", "0010_protection"),
    ]

    operations = [
        migrations.SeparateDatabaseAndState(
            # The table stays where it is, under a model of the registry.
            state_operations=[migrations.DeleteModel(name="Attachment")],
        ),
    ]
