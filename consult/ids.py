"""Ids in addresses: clients make them, and some of them write UUIDs in capitals."""

from django.urls import register_converter
from django.urls.converters import UUIDConverter


class AnyCaseId(UUIDConverter):
    """A UUID of 36 characters in either case, as the ids in bodies are read."""

    regex = "[0-9a-fA-F]{8}(?:-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}"


register_converter(AnyCaseId, "id")
