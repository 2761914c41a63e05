"""Systems of before have no spans of protection: the next sweep derives each of them again."""

from django.db import migrations


def ask_to_derive(apps, schema_editor):
    apps.get_model("scheduling", "SystemWatch").objects.update(is_to_derive=True)


class Migration(migrations.Migration):
    dependencies = [
        ("registry", "0003_protection"),
        ("scheduling", "0007_rules_as_data"),
    ]

    operations = [migrations.RunPython(ask_to_derive, migrations.RunPython.noop)]
