"""`manage.py second_trigger`."""

import signal
import threading
from typing import Any

from django.core.management.base import BaseCommand

from consult.service.backup_sweep import SecondTrigger


class Command(BaseCommand):
    """Run the sweep's second trigger on its own, for an installation whose processes are started one by one."""

    help = __doc__

    def handle(self, *args: Any, **options: Any) -> None:
        """Look each second until SIGINT or SIGTERM."""
        stopping = threading.Event()
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, lambda *_: stopping.set())
        SecondTrigger(stopping).run()
