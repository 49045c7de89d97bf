"""`compare_rulepacks` over stored facilities and over files: the federal pack against a copy that was changed.

In the copy spill buckets are tested every year instead of every three (40 CFR 280.35(a)(1)(ii)), nobody looks into
sumps once a year (280.36(a)(1)(ii)(A)), and an invented rule asks for a look at overfill devices every 30 days.
"""

import json
import shutil
from datetime import date
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from compliance.gather import site_documents
from compliance.models import Obligation, Standing
from equipment.models import Facility
from equipment.moments import Moment
from equipment.services.records import Deed, record_visit
from tests import world
from tests.compliance.rulepacks.federal import PACKS
from tests.world import NOW

INVENTED = """
pack = "us-federal"
[[rule]]
id = "overfill-look"
title = "Overfill device looked at every month"
subject = "overfill_device"
[[rule.version]]
effective = 2020-01-01
schedule = { every = "30 days" }
satisfied_by = [{ activity = "overfill-inspection" }]
cite = "Invented Code 7"
verified = "MU"
"""


@pytest.fixture
def changed(tmp_path: Path) -> Path:
    folder = Path(shutil.copytree(PACKS / "us_federal", tmp_path / "packs" / "us_federal"))
    file = folder / "containment.toml"
    first, rest = file.read_text().split('id = "spill-bucket-tightness-3y"')
    file.write_text(
        first
        + 'id = "spill-bucket-tightness-3y"'
        + rest.replace('interval = "3 years"', 'interval = "1 year"', 1)
    )
    walks = folder / "walkthroughs.toml"
    before, _, after = walks.read_text().partition('[[rule]]\nid = "walkthrough-annual-sump"')
    walks.write_text(before + "[[rule]]" + after.partition("[[rule]]")[2])
    (folder / "invented.toml").write_text(INVENTED)
    return folder.parent


@pytest.fixture
def site(own, owner):
    """One tank; its bucket was tested on 10 March 2025."""
    world.line(own)
    deed = Deed(
        activity="spill-bucket-test",
        performed=Moment(day=date(2025, 3, 10)),
        subjects=("SB1",),
        outcome="pass",
        measurements=world.TIGHT_BUCKET,
    )
    record_visit(facility=own, submitted_by=owner, entered_by="test", deeds=[deed], now=NOW)
    return own


def compare(*arguments: object, **streams: StringIO) -> str:
    out = StringIO()
    call_command("compare_rulepacks", *[str(one) for one in arguments], stdout=out, **streams)
    return out.getvalue()


def lines(*arguments: object) -> list[dict]:
    return [json.loads(line) for line in compare(*arguments, "--json", "--on", "2026-02-28").splitlines()]


def exported(folder: Path, *facilities) -> list[Path]:
    """The site documents of the facilities as files."""
    files = []
    for pk, document in site_documents([facility.pk for facility in facilities]).items():
        files.append(folder / f"{pk}.json")
        files[-1].write_text(json.dumps(document, default=str))
    return files


def test_what_appears_vanishes_and_moves_is_told_with_both_wordings(site, changed):
    first, _ = lines("installed", changed)

    told = {(row["rule"], row["subject"]): row for row in first["obligations"]}
    bucket = told["spill-bucket-tightness-3y", "SB1"]
    assert {key: row["change"] for key, row in told.items()} == {
        ("spill-bucket-tightness-3y", "SB1"): "moves",
        ("walkthrough-annual-sump", "SU1"): "vanishes",
        ("overfill-look", "OV1"): "appears",
    }
    assert (bucket["before"]["standing"], bucket["before"]["due"]) == ("met", "2028-03-10")
    assert (bucket["after"]["standing"], bucket["after"]["due"]) == ("due soon", "2026-03-10")
    assert "280.36(a)(1)(ii)(A)" in told["walkthrough-annual-sump", "SU1"]["before"]["cite"]
    assert told["overfill-look", "OV1"]["after"]["cite"] == "Invented Code 7"


def test_the_last_line_counts_over_all_facilities(site, foreign, changed):
    *facilities, last = lines("installed", changed)

    assert len(facilities) == 2
    assert last["summary"]["facilities"] == 2
    assert last["summary"]["differing"] == 1
    assert last["summary"]["by_rule"]["overfill-look"] == {"appears": 1}


def test_only_the_facilities_that_were_named_are_judged(site, foreign, changed):
    [first, _] = lines("installed", changed, "--facility", foreign.pk)

    assert first["facility"] == f"facility:{foreign.pk} Marina FOREIGN"
    assert first["obligations"] == []


def test_people_are_told_in_words(site, changed):
    told = compare("installed", changed, "--on", "2026-02-28")

    assert f"facility:{site.pk} Marina OWN" in told
    assert "spill-bucket-tightness-3y about SB1 moves" in told
    assert "before: met, due 2028-03-10 [40 CFR 280.35(a)(1)(ii), (b), (c)(1); wording of 2015-10-13]" in told
    assert "after:  due soon, due 2026-03-10" in told
    assert "after:  no rule asks for it" in told
    assert "Facilities compared: 1; with differences: 1. Obligations: 1 appear, 1 vanish, 1 move" in told


def test_delays_of_the_past_are_told_in_words(site, changed):
    """In the copy the first test is owed from 2026 on, so that the one of 10 March 2025 was in time."""
    file = changed / "us_federal" / "containment.toml"
    text = (PACKS / "us_federal" / "containment.toml").read_text()
    file.write_text(text.replace("start = 2018-10-13", "start = 2026-01-01", 1))

    told = compare("installed", changed, "--on", "2026-02-28")

    assert "spill-bucket-tightness-3y about SB1 has other delays in the past" in told
    [before] = [one for one in told.splitlines() if "before: met, due 2028-03-10, late by" in one]
    assert before.replace("before: ", "after:  ").split(", late by")[0] in told
    assert "1 have other delays" in told


def test_an_exemption_is_told_with_its_reason(site, changed):
    """In the copy a bucket with a single wall owes no test."""
    file = changed / "us_federal" / "containment.toml"
    rule = 'id = "spill-bucket-tightness-3y"'
    head, tail = file.read_text().split(rule)
    exempt = tail.replace("unless = [", 'unless = [{ spill_bucket_wall_type = "single" },', 1)
    file.write_text(head + rule + exempt)

    told = compare("installed", changed, "--on", "2026-02-28")

    assert "spill-bucket-tightness-3y about SB1 vanishes" in told
    assert "(spill bucket SB1): not required: an exemption is proven" in told


def test_a_letter_about_a_rule_that_is_gone_stops_the_facility_under_the_new_packs(changed, tmp_path):
    letter = {"rule": "walkthrough-annual-sump", "params": {"interval": "2 years"}, "document": "D1"}
    paper = {"id": "D1", "type": "agency letter", "issued_on": "2026-01-05"}
    document = {"facility": {"id": "F1"}, "overrides": [letter], "documents": [paper]}
    (tmp_path / "site.json").write_text(json.dumps(document))
    err = StringIO()

    with pytest.raises(SystemExit):
        compare("installed", changed, "--documents", tmp_path / "site.json", stderr=err)

    assert "site.json under NEW: /overrides/0/rule: no loaded rule has the id" in err.getvalue()


def test_nothing_is_written(site, changed):
    compare("installed", changed)

    assert not Obligation.objects.exists()
    assert not Standing.objects.exists()


def test_the_installed_packs_do_not_differ_from_themselves(site):
    first, last = lines("installed", "installed")

    assert first["obligations"] == []
    assert first["counts"]["stays"] > 0
    assert last["summary"]["differing"] == 0


def test_one_pack_folder_will_do(site, changed):
    first, _ = lines("installed", changed / "us_federal")

    assert first["counts"]["appears"] == 1


def test_batches_ask_the_database_no_more_often_for_more_facilities(
    owner, changed, django_assert_max_num_queries
):
    for number in range(12):
        world.line(world.facility(owner, f"M{number}"))

    with django_assert_max_num_queries(60):
        *facilities, _ = lines("installed", changed)

    assert len(facilities) == 12


def test_a_facility_that_cannot_be_judged_is_named_and_the_others_go_on(site, owner, changed):
    """Its state's pack was loaded when it was registered, and is neither in OLD nor in NEW."""
    elsewhere = world.facility(owner, "ELSEWHERE")
    Facility.objects.filter(pk=elsewhere.pk).update(jurisdictions=["us-nowhere"])
    err = StringIO()

    with pytest.raises(SystemExit) as ended:
        compare("installed", changed, stderr=err)

    assert ended.value.code == 2
    assert f"facility:{elsewhere.pk} Marina ELSEWHERE under OLD: /facility/jurisdictions/0" in err.getvalue()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["installed", "nowhere"], "nowhere is no folder; name a folder of rule packs, or `installed`"),
        (["installed", "EMPTY"], "holds no rules"),
        (["installed", "installed", "--facility", "999"], "no facility has the id 999"),
        (["installed", "installed", "--on", "soon"], "a day \\(2026-02-28\\) or an instant"),
    ],
)
def test_what_cannot_be_used_is_refused(db, tmp_path, arguments, words):
    (tmp_path / "empty").mkdir()
    given = [str(tmp_path / "empty") if one == "EMPTY" else one for one in arguments]

    with pytest.raises(CommandError, match=words):
        compare(*given)


def test_a_broken_pack_is_refused_with_file_line_and_mend(db, changed):
    (changed / "us_federal" / "invented.toml").write_text(INVENTED.replace("cite", "ciet"))

    with pytest.raises(CommandError, match=r"us_federal/invented\.toml:\d+: rule overfill-look: "):
        compare("installed", changed)


def test_files_need_no_database(site, changed, tmp_path, django_db_blocker):
    [file] = exported(tmp_path, site)

    with django_db_blocker.block():
        first, _ = lines("installed", changed, "--documents", file)

    assert first["facility"] == str(file)
    assert first["counts"]["moves"] == 1


def test_a_file_that_is_no_site_document_is_named_with_its_pointer(changed, tmp_path):
    (tmp_path / "broken.json").write_text('{"facility": {"colour": "blue"}}')
    err = StringIO()

    with pytest.raises(SystemExit):
        compare("installed", changed, "--documents", tmp_path / "broken.json", stderr=err)

    assert "broken.json: /facility/colour" in err.getvalue()
