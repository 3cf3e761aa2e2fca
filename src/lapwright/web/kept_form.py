"""What was typed into a form that came without a log-in: carried through the log-in, so that nothing is typed twice.

It travels in the page and is kept nowhere. It is sent on by whoever has logged in, by a button and under their name,
with a token of its own. Passwords and files do not travel.
"""

from __future__ import annotations

import json

from django.http import QueryDict

MOST_CHARACTERS = 200_000  # of a form that is carried; longer ones are typed or pasted again
SHOWN = 300  # characters of each text


def pack(sent: QueryDict) -> str:
    """The fields of a form as one text; "" for a form with nothing to carry, or too long for it."""
    fields = [(name, value) for name, values in sent.lists() for value in values if _travels(name)]
    packed = json.dumps(fields)
    return packed if fields and len(packed) <= MOST_CHARACTERS else ""


def fields_of(packed: str) -> tuple[tuple[str, str], ...]:
    """Names and values of a form packed before; none of a text that is no such form."""
    try:
        found = json.loads(packed) if packed else []
        return tuple((str(name), str(value)) for name, value in found)
    except (ValueError, TypeError):
        return ()


def typed(fields: tuple[tuple[str, str], ...]) -> tuple[str, ...]:
    """What a person reads of it: the texts, the long ones shortened."""
    texts = (value.strip() for _name, value in fields)
    return tuple(text if len(text) <= SHOWN else text[:SHOWN] + "…" for text in texts if text)


# ----------------------------------------------------------------------------------------------------------------------


def _travels(name: str) -> bool:
    return name != "csrfmiddlewaretoken" and "password" not in name
