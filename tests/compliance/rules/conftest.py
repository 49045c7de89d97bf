"""Small invented rules and documents. What the law says is checked with the rule packs; here it is the engine."""

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from compliance.rules.document import read_document
from compliance.rules.findings import Finding
from compliance.rules.judging import judge
from compliance.rules.loading import load_packs
from compliance.rules.packset import PackSet

HEAD = """
pack = "invented"
[[rule]]
id = "cup-test"
title = "Invented cup test"
subject = "spill_bucket"
"""


@pytest.fixture
def packs(tmp_path: Path) -> Callable[[str], PackSet]:
    """Load packs from the text of one file."""

    def load(text: str) -> PackSet:
        (tmp_path / "invented.toml").write_text(text)
        return load_packs([tmp_path])

    return load


@pytest.fixture
def version(packs) -> Callable[..., PackSet]:
    """One rule about spill buckets with the given body as its only wording, or several bodies."""

    def load(*bodies: str) -> PackSet:
        ends = 'cite = "Invented Code 1"\nverified = "M"\n'
        return packs(HEAD + "".join(f"[[rule.version]]\n{body}\n{ends}" for body in bodies))

    return load


@pytest.fixture
def finding() -> Callable[..., Finding]:
    """Judge a document and give the only finding (or the one of `subject`)."""

    def only(
        packs: PackSet, raw: dict[str, Any], at: date | datetime, subject: str = "SB", **more: Any
    ) -> Finding:
        judgement = judge(
            read_document(raw), packs, at=at, jurisdictions=packs.names, include_not_required=True, **more
        )
        [found] = [found for found in judgement.findings if found.subject == subject]
        return found

    return only
