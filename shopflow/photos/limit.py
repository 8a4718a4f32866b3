"""Keeps no more of a file than may be sent, however much comes: what is refused must not fill the disk."""

from __future__ import annotations

from django.conf import settings
from django.core.files.uploadhandler import FileUploadHandler


class StopAtTheLimit(FileUploadHandler):
    """Lets the rest of an oversized file go by; what is kept is still too large, and so refused in words."""

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes | None:
        return raw_data if start <= settings.PHOTO_MAX_BYTES else None

    def file_complete(self, file_size: int) -> None:
        """The next one on the list makes a file of it."""
