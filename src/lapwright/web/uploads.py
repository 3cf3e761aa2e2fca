"""Uploads are refused by their size before they fill the disk."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadhandler import FileUploadHandler

MOST_BYTES = 200 * 1024 * 1024  # a set of phase steps; each file has a limit of its own besides


class BoundedUpload(FileUploadHandler):
    """Counts what comes and stops at the limit, whatever the request says of its length."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._received = 0

    def handle_raw_input(  # noqa: D102  # as Django describes it
        self,
        input_data: Any,  # noqa: ARG002  # Django gives it
        META: Any,  # noqa: N803, ARG002  # Django names it so
        content_length: Any,
        boundary: Any,  # noqa: ARG002  # Django gives it
        encoding: Any = None,  # noqa: ARG002  # Django gives it
    ) -> None:
        if int(content_length) > MOST_BYTES:
            raise RequestDataTooBig("upload")

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:  # noqa: ARG002  # Django gives it
        """Pass the chunk on while there is room."""
        self._received += len(raw_data)
        if self._received > MOST_BYTES:
            raise RequestDataTooBig("upload")
        return raw_data

    def file_complete(self, file_size: int) -> None:  # noqa: ARG002  # Django gives it
        """Another handler makes the file."""
        return
