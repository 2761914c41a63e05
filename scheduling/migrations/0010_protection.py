"""Systems of before have no spans of protection: the next sweep derives each of them again."""

from django.db import migrations


def ask_to_derive(apps, schema_editor):
    apps.get_model("scheduling", "SystemWatch").objects.update(is_to_derive=True)


class Migration(migrations.Migration):
    dependencies = [
        ("registry", "0008_protection"),
        ("scheduling", "0009_tell_of_verdicts_and_packages"),
    ]

    operations = [migrations.RunPython(ask_to_derive, migrations.RunPython.noop)]
