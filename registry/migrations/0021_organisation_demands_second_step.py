from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("registry", "0020_person_language"),
    ]

    operations = [
        migrations.AddField(
            model_name="organisation",
            name="demands_second_step",
            field=models.BooleanField(
                default=False, verbose_name="asks all its people for a second step at sign-in"
            ),
        ),
    ]
