"""The records as Django knows them."""

from django.apps import AppConfig


class RecordsConfig(AppConfig):
    """Models and migrations of the job."""

    name = "lapwright.records"
    label = "records"
    default_auto_field = "django.db.models.BigAutoField"
