from django.db import migrations


def derive_again(apps, schema_editor):
    """What nobody answered of an outage is kept beside it now: the sweep derives those anew."""
    spans = apps.get_model("registry", "ProtectionSpan").objects.filter(state="impaired")
    watched = apps.get_model("scheduling", "SystemWatch").objects
    watched.filter(system__in=spans.values("system")).update(is_to_derive=True)


class Migration(migrations.Migration):
    dependencies = [
        ("registry", "0022_unanswered_about_outages"),
        ("scheduling", "0017_reports_people_keep"),
    ]

    operations = [migrations.RunPython(derive_again, migrations.RunPython.noop)]
