from importlib import import_module

from django.apps import AppConfig


class EquipmentConfig(AppConfig):
    name = "equipment"

    def ready(self) -> None:
        """Register what drf-spectacular finds only once it is loaded."""
        import_module("equipment.api.key_scheme")
