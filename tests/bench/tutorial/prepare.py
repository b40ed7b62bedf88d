"""Makes the tutorial project's tables and one token; prints it."""

import os

import django

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.bench.tutorial.settings"


def main() -> None:
    """Make the tables without migrations, a user and the token."""
    django.setup()
    from django.contrib.auth import get_user_model
    from django.core.management import call_command
    from rest_framework.authtoken.models import Token

    call_command("migrate", run_syncdb=True, verbosity=0)
    print(Token.objects.create(user=get_user_model().objects.create(username="crew")).key)


if __name__ == "__main__":
    main()
