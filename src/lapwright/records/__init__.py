"""Records: the database behind one reader and one writer.

Nothing above this package sees a database row: `queries` and `writer` take and give the frozen values of `model`.
Importing this package loads no Django; `start` does.
"""

from lapwright.records.starting import current_settings, start

__all__ = ["current_settings", "start"]
