"""By which protocols a verdict was reached: one short text that changes with any of them."""

import hashlib
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent
SORTS = (".py", ".toml")


@cache
def protocols_digest() -> str:
    """SHA-256 over the numbers and the code of this folder: a verdict under another digest is worked out anew."""
    return digest_of(HERE)


def digest_of(folder: Path) -> str:
    """The same for the same files, by name and content."""
    digest = hashlib.sha256()
    for path in sorted(each for each in folder.iterdir() if each.suffix in SORTS):
        content = path.read_bytes()
        digest.update(f"{path.name} {len(content)}\n".encode())
        digest.update(content)
    return digest.hexdigest()
