"""The command line: files in, findings out, without account or database."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from tests.compliance.rules.sites import site

WALKED = {
    "activity": "walkthrough",
    "subject": "F",
    "performed_at": "2026-02-27",
    "measurements": {"areas": ["spill", "release detection"]},
}


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "site.json"
    path.write_text(json.dumps(site(WALKED)))
    return path


def run(*arguments):
    out, err = StringIO(), StringIO()
    call_command(*[str(argument) for argument in arguments], stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


def test_json_is_one_line_a_file_with_the_finding_and_its_citation(file):
    """40 CFR 280.36(a)(1)(i): at least every 30 days."""
    out, _ = run("judge", file, file, "--on", "2026-02-28", "--packs", "us-federal", "--json")

    first, second = [json.loads(line) for line in out.splitlines()]
    [walk] = [found for found in first["findings"] if found["rule"] == "walkthrough-30-day-rd"]
    assert first == second
    assert (walk["subject"], walk["standing"], walk["due"]) == ("S", "met", "2026-03-29")
    assert "280.36" in walk["cite"]


def test_without_json_people_get_a_table_and_sentences(file):
    out, _ = run("judge", file, "--on", "2026-02-28")

    assert "walkthrough-30-day-rd" in out
    assert "(tank system S): in order; the date to keep is 2026-03-29." in out


def test_a_broken_file_is_named_with_its_pointer_and_the_others_are_judged(file, tmp_path, capsys):
    broken = tmp_path / "broken.json"
    broken.write_text('{"facility": {"colour": "blue"}}')
    out, err = StringIO(), StringIO()

    with pytest.raises(SystemExit) as ended:
        call_command("judge", str(broken), str(file), "--json", "--on=2026-02-28", stdout=out, stderr=err)

    assert ended.value.code == 2
    assert "broken.json: /facility/colour" in err.getvalue()
    assert len(out.getvalue().splitlines()) == 1


@pytest.mark.parametrize("option", ["--on=soon", "--look-back=12"])
def test_an_option_that_cannot_be_read_says_what_is_expected(file, option):
    with pytest.raises(CommandError, match="expected"):
        run("judge", file, option)


def test_the_installed_packs_load_and_are_listed():
    out, _ = run("check_rulepacks")

    assert "us-federal" in out


def test_a_faulty_pack_fails_with_file_line_and_mend(tmp_path):
    folder = tmp_path / "packs" / "invented"
    folder.mkdir(parents=True)
    (folder / "a.toml").write_text('pack = "invented"\n[[rule]]\nid = "x"\ntitel = "y"\n')

    with pytest.raises(CommandError, match=r"invented/a\.toml:\d+: rule x: "):
        run("check_rulepacks", tmp_path / "packs")
