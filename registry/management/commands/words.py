from django.core.management.base import BaseCommand


class Command(BaseCommand):
    help = "Find the texts of the code, bring the catalogues up to date with them, compile these."

    def handle(self, *args, **options):
        from registry.words import catalogue  # here, as only developers have what it needs

        for language in catalogue.languages():
            words, path = catalogue.brought_up_to_date(language), catalogue.place(language)
            path.write_bytes(catalogue.as_text(words))
            path.with_suffix(".mo").write_bytes(catalogue.compiled(words))
            empty = sum(1 for message in words if message.id and not all(_forms(message.string)))
            self.stdout.write(f"{language}: {len(words)} texts, {empty} without a translation.")


def _forms(string):
    return string if isinstance(string, tuple | list) else (string,)
