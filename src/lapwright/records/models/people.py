"""People who sign."""

from django.contrib.auth.models import AbstractUser


class Person(AbstractUser):
    """Somebody who works here; the short name (username) stands beside every write."""
