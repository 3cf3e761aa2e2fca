"""The words of certificate and traveller, one table a language, all with the same keys."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from lapwright.reports.words.english import ENGLISH
from lapwright.reports.words.german import GERMAN

Words = Mapping[str, str]
Language = Literal["en", "de"]

LANGUAGES: Mapping[Language, Words] = {"en": ENGLISH, "de": GERMAN}

__all__ = ["ENGLISH", "GERMAN", "LANGUAGES", "Language", "Words"]
