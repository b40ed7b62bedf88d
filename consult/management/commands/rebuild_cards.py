"""`manage.py rebuild_cards`."""

from typing import Any

from django.core.management.base import BaseCommand
from tqdm import tqdm

from consult import clock
from consult.actions import cards
from consult.models import Case


class Command(BaseCommand):
    """Make every state and card again from the journals, after a change of code; says how many were out of date.

    Each case in a transaction of its own, so that the board goes on meanwhile.
    """

    help = __doc__

    def handle(self, *args: Any, **options: Any) -> None:
        """Go through all cases, the oldest first."""
        numbers = Case.objects.order_by("pk").values_list("pk", flat=True)
        bar = tqdm(numbers.iterator(), total=numbers.count(), unit="case", disable=None)
        rebuilt = sum(cards.rebuild_card(pk, clock.now()) for pk in bar)
        self.stdout.write(f"{rebuilt} of {numbers.count()} cards were out of date and have been rebuilt.")
