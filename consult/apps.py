"""The one Django app of the project."""

from django.apps import AppConfig


class ConsultConfig(AppConfig):
    """Models, actions, live boards and screens of the consult board."""

    name = "consult"
    verbose_name = "Consult board"
