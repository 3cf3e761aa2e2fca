"""What people may do: their roles, tokens of their programs, what they signed, attempts to log in, forms they sent."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly, Versioned
from lapwright.records.models.orders import Order
from lapwright.records.models.people import Person


class Grant(AppendOnly):
    """A role given to a person; the latest holds."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="grants")
    role = models.CharField(max_length=20)

    class Meta:
        ordering = ["pk"]


class ApiToken(Versioned):
    """A token by which a program acts for a person; only its SHA-256 is kept."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="tokens")
    name = models.CharField(max_length=60)
    sha256 = models.CharField(max_length=64, unique=True)
    scopes = models.JSONField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["pk"]


class Signing(AppendOnly):
    """A certificate signed: by whom, with which meaning, and which files, told by their SHA-256."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="signings")
    document_number = models.CharField(max_length=100)
    meaning = models.CharField(max_length=40)
    name = models.CharField(max_length=200)
    method = models.CharField(max_length=20)
    documents = models.JSONField()

    class Meta:
        ordering = ["pk"]


class LoginAttempt(models.Model):
    """A log-in that failed, until it is too old to matter; no record."""

    name = models.CharField(max_length=150, db_index=True)
    address = models.CharField(max_length=60, db_index=True)
    at = models.DateTimeField(db_index=True)


class SentForm(models.Model):
    """The mark of a form that led to a deed, and the page it led to; no record, and gone after a quarter of a year."""

    mark = models.CharField(max_length=64, unique=True)
    at = models.DateTimeField(db_index=True)
    place = models.CharField(max_length=500, blank=True)
