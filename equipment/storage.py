"""Where attached files lie: each is there whole or not at all, whatever crashes meanwhile."""

import os
import tempfile
from pathlib import Path
from typing import Any

from django.core.files.storage import FileSystemStorage


class WholeFiles(FileSystemStorage):
    """A folder in which a file is written under another name and then moved to its own.

    Names are made of the content (`equipment.services.attachments`), so a name that is taken holds the same bytes and
    is simply written over. Several web hosts share the folder: the move is atomic on one file system.
    """

    def get_available_name(self, name: str, max_length: int | None = None) -> str:
        """The name itself."""
        return name

    def _save(self, name: str, content: Any) -> str:
        target = Path(self.path(name))
        target.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=target.parent, prefix=".part-", delete=False) as part:
            try:
                for chunk in content.chunks():
                    part.write(chunk)
                part.flush()
                os.fsync(part.fileno())
                Path(part.name).replace(target)
            except BaseException:
                Path(part.name).unlink(missing_ok=True)
                raise
        return name
