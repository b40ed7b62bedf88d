#!/usr/bin/env python
"""Run a management command of the consult board."""

import os
import sys


def main() -> None:
    """Hand the command line to Django with this project's settings."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "consult.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
