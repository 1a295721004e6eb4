"""Django's card of this floor."""

from django.apps import AppConfig


class BatchesConfig(AppConfig):
    """What we make."""

    name = "batches"
    default_auto_field = "django.db.models.BigAutoField"
