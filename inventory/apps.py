"""Django's card of this floor."""

from django.apps import AppConfig


class InventoryConfig(AppConfig):
    """What we hold."""

    name = "inventory"
    default_auto_field = "django.db.models.BigAutoField"
