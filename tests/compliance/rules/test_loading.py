"""What a pack may not contain: one faulty file for each mistake in `broken/`, with the words that help to mend it."""

from datetime import date
from pathlib import Path

import pytest

from compliance.rules.loading import PackError, load_packs

BROKEN = Path(__file__).parent / "broken"
ACTIVITIES = {"spill-bucket-test": {"method", "minutes"}, "repair": {"part"}}

MISTAKES = {
    "unknown_key": (17, "version[0].citation", "no such key"),
    "unknown_schedule_key": (14, "schedule.evry", "no such key"),
    "same_id_twice": (21, "id", "ids are unique"),
    "no_cite": (11, "version[0]", "missing required field `cite`"),
    "empty_cite": (17, "cite", "matching regex"),
    "no_verified": (11, "version[0]", "missing required field `verified`"),
    "same_effective": (21, "effective", "write versions in order"),
    "versions_out_of_order": (21, "effective", "write versions in order"),
    "second_version_always": (20, "effective", "only the first version may leave it out"),
    "unknown_condition": (13, "suspended_when", "no condition is named 'shutt'"),
    "unknown_parameter": (14, "schedule", "$intervall is not among the params"),
    "unused_parameter": (15, "params.grace", "remove it or use it"),
    "parameter_of_wrong_shape": (14, "schedule", 'such as "30 days"'),
    "unknown_kind": (9, "subject", "'spill_pail' is no kind of item"),
    "unknown_field": (13, "applies", "has a field 'both_walls_monitred'"),
    "unknown_activity": (16, "satisfied_by[0].activity", "no activity of the catalogue"),
    "unknown_activity_of_records": (13, "applies.activity", "'repare' is no activity"),
    "unknown_measurement": (16, "accept.measurements__metod", "measured are method, minutes"),
    "unknown_measurement_of_records": (13, "applies.measurements__prt", "measured are part"),
    "unknown_field_of_evidence": (16, "where", "has a field 'regardin'"),
    "unknown_field_of_an_answer": (13, "unless", "has a field 'repared_at'"),
    "unknown_field_of_what_an_answer_names": (13, "unless", "has a field 'outcom'"),
    "two_duties": (14, "schedule", "exactly one of"),
    "no_duty": (11, "schedule", "exactly one of"),
    "no_evidence": (11, "satisfied_by", "what evidence meets it"),
    "off_with_a_duty": (15, "schedule", "a version that is off has no duty"),
    "no_schedule_token": (14, "schedule", "is expected"),
    "tokens_that_do_not_go_together": (14, "schedule", "every: does not go with `due`"),
    "bad_quantity": (14, "schedule", "30 fortnights"),
    "bad_expression": (14, "schedule", "is no field path"),
    "bad_condition": (13, "applies", "`in` is compared with a list"),
    "yearly_without_effective": (13, "schedule", "needs `effective`"),
    "election_without_default": (13, "election", "one choice must be"),
    "election_with_two_defaults": (27, "election", "one default a group"),
    "no_pack": (6, "pack", "name the pack here or at the head"),
    "override_of_unknown_rule": (21, "rule", "no rule has this id"),
    "override_of_unknown_parameter": (
        22,
        "params.period",
        "the rule has no such parameter (it has interval)",
    ),
    "override_that_changes_nothing": (21, "override", "changes nothing"),
    "override_without_cite": (21, "table", "missing required field `cite`"),
    "no_toml": (6, "file", "is not valid TOML"),
}


def test_every_broken_file_has_its_mistake_described():
    assert {path.stem for path in BROKEN.glob("*.toml")} == set(MISTAKES)


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_refused_with_file_line_key_and_mend(name, tmp_path):
    line, key, words = MISTAKES[name]
    folder = tmp_path / "broken"
    folder.mkdir()
    (folder / f"{name}.toml").write_text((BROKEN / f"{name}.toml").read_text())

    with pytest.raises(PackError) as refused:
        load_packs([folder], activities=ACTIVITIES)

    [fault] = refused.value.faults
    assert fault.file == f"broken/{name}.toml"
    assert key in fault.key
    assert words in fault.detail
    assert fault.line == line


RULE = """
[[rule]]
id = "ID"
title = "Invented"
subject = "spill_bucket"
[[rule.version]]
effective = 2020-01-01
schedule = { every = "$interval" }
params = { interval = "30 days" }
satisfied_by = [{ activity = "spill-bucket-test" }]
cite = "Invented Code 1"
verified = "M"
"""


def test_several_files_make_one_pack_and_share_named_conditions(tmp_path):
    (tmp_path / "a.toml").write_text('pack = "invented"\n[conditions]\nshut = [{ status = "abandoned" }]')
    rule = RULE.replace("ID", "one").replace("schedule", 'suspended_when = "shut"\nschedule')
    (tmp_path / "b.toml").write_text('pack = "invented"\n' + rule)

    packs = load_packs([tmp_path], activities=ACTIVITIES)

    assert (packs.names, packs.rule("one").versions[0].effective) == (("invented",), date(2020, 1, 1))


def test_all_mistakes_are_reported_together(tmp_path):
    text = 'pack = "invented"\n' + RULE.replace("ID", "one").replace("cite", "cited")
    (tmp_path / "a.toml").write_text(text + RULE.replace("ID", "two").replace("30 days", "soon"))

    with pytest.raises(PackError) as refused:
        load_packs([tmp_path])

    assert len(refused.value.faults) == 2


def test_the_digest_changes_with_any_file(tmp_path):
    file = tmp_path / "a.toml"
    file.write_text('pack = "invented"\n' + RULE.replace("ID", "one"))
    before = load_packs([tmp_path]).digest

    file.write_text(file.read_text() + "# a remark\n")

    assert load_packs([tmp_path]).digest != before


def test_an_override_acts_only_where_its_pack_applies(tmp_path):
    state = (
        '[[override]]\npack = "state"\nrule = "one"\nparams = { interval = "60 days" }\ncite = "State Code"\n'
    )
    (tmp_path / "a.toml").write_text('pack = "invented"\n' + RULE.replace("ID", "one") + state)

    packs = load_packs([tmp_path])
    [federal], [stricter] = packs.for_packs(("invented",)), packs.for_packs(("invented", "state"))

    assert [str(rule.versions[0].schedule.every) for rule in (federal, stricter)] == ["30 days", "60 days"]
    assert stricter.versions[0].cite == "Invented Code 1; State Code"


def test_an_override_may_lift_a_rule_and_cites_why(tmp_path):
    state = '[[override]]\npack = "state"\nrule = "one"\noff = true\ncite = "State Code"\n'
    (tmp_path / "a.toml").write_text('pack = "invented"\n' + RULE.replace("ID", "one") + state)

    [rule] = load_packs([tmp_path]).for_packs(("invented", "state"))

    assert [(version.off, version.cite) for version in rule.versions] == [(True, "State Code")]
