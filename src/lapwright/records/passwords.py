"""What is wrong with a password."""

from __future__ import annotations

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from lapwright.records import models
from lapwright.records.faults import translated


def faults_of(password: str, name: str) -> tuple[str, ...]:
    """All that speaks against a password, in sentences: too short, common, like the name, digits alone."""
    with translated():
        person = models.Person.objects.filter(username=name).first() or models.Person(username=name)
    try:
        validate_password(password, person)
    except ValidationError as error:
        return tuple(error.messages)
    return ()
