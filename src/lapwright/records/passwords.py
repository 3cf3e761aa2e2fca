"""What is wrong with a password."""

from __future__ import annotations

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from lapwright.records import models


def faults_of(password: str, name: str) -> tuple[str, ...]:
    """All that speaks against a password, in sentences: too short, common, like the name, digits alone."""
    try:
        validate_password(password, models.Person.objects.filter(username=name).first())
    except ValidationError as error:
        return tuple(error.messages)
    return ()
