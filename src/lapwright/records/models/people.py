"""People who sign."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import AbstractUser

from lapwright.records.models.base import Chained


class Person(Chained, AbstractUser):
    """Somebody who works here; the short name (username) stands beside every write.

    The chain covers the names. The password and the stamp of the last login change outside of it.
    """

    chained = ("username", "first_name", "last_name")

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write the row; noted in the chain when a name may have changed."""
        wanted = kwargs.get("update_fields")
        if wanted is not None and not set(wanted) & set(self.chained):
            AbstractUser.save(self, *args, **kwargs)
            return
        super().save(*args, **kwargs)
