"""Build every card anew from the rows, after a change of the code that builds them; says how many were another."""

from typing import Any

from django.core.management.base import BaseCommand
from tqdm import tqdm

from consult import clock
from consult.actions import cards
from consult.models import Case


class Command(BaseCommand):
    """`manage.py rebuild_cards`: each case in a transaction of its own, so that the board goes on meanwhile."""

    help = __doc__

    def handle(self, *args: Any, **options: Any) -> None:
        """Go through all cases, the oldest first."""
        numbers = Case.objects.order_by("pk").values_list("pk", flat=True)
        bar = tqdm(numbers.iterator(), total=numbers.count(), unit="case", disable=None)
        rebuilt = sum(cards.rebuild_card(pk, clock.now()) for pk in bar)
        self.stdout.write(f"{rebuilt} of {numbers.count()} cards were another and have been rebuilt.")
