"""`manage.py texts`."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from consult.management import catalogue, texts


class Command(BaseCommand):
    """Write the catalogue of all texts again, and take up what was edited in it.

    For the language and into the folder of the settings.
    """

    help = __doc__

    def handle(self, *args: Any, **options: Any) -> None:
        """Write it, and say where it is."""
        folder = Path(settings.LOCALE_PATHS[0]) / settings.LANGUAGE_CODE / "LC_MESSAGES"
        if faults := catalogue.store(folder, texts.found(settings.BASE_DIR)):
            raise CommandError("\n".join(faults))
        self.stdout.write(f"{folder / 'django.po'}: edit it, run this again, then restart the board.")
