"""Sentences made below the pages, in the language of the page; known to every template without being loaded."""

from __future__ import annotations

from django import template

from lapwright.web.sentences import said

register = template.Library()
register.filter("said", said)
