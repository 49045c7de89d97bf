"""All 183 worked examples, each by topic and id: matched within its tolerance, or listed here with the reason."""

from decimal import Decimal
from itertools import chain

import pytest

from tests.compliance.protocols import answers_alarms, answers_inventory, answers_physics, answers_tests
from tests.compliance.protocols.worked import EXAMPLES, Answer

ANSWERS: dict[str, Answer] = {
    **answers_alarms.ANSWERS,
    **answers_inventory.ANSWERS,
    **answers_physics.ANSWERS,
    **answers_tests.ANSWERS,
}

IN_THE_DATABASE = set(answers_alarms.ANSWERS)
CONSOLE = "a load that somebody at a console can bear; a marina sees a few alarms a week, and nothing is judged by it"
NOT_ANSWERED = {
    "alarm-isa-iec": f"{CONSOLE}; the standard itself dropped the figure in 2016",
    "alarm-badactors": "an observation in many plants, no computation: the most frequent ten are listed, "
    "whatever their share",
}
NOT_ANSWERED_IN_PART = {
    ("chart-rule-16pct", "rule_pct"): "a rule of thumb beside the exact segment, which is what is computed",
    (
        "inv-derived-twomonth-Fp",
        "action_after_last_month",
    ): "derived: asks for a recheck after a good month; by "
    "40 CFR 280.50(c) a second month that does not confirm the first ends the suspicion, so nothing is asked",
    **{
        ("alarm-eemua", key): CONSOLE
        for key in (
            "steady_state",
            "average_per_hour",
            "average_per_day",
            "peak_hour",
            "peak_minute",
            "priority_split_high_med_low",
        )
    },
}
EXACT = 1e-9


def matches(found: object, expected: object, tolerance: float) -> bool:
    if isinstance(expected, list):
        return (
            isinstance(found, list)
            and len(found) == len(expected)
            and all(matches(one, other, tolerance) for one, other in zip(found, expected, strict=True))
        )
    if isinstance(expected, bool | str) or not isinstance(found, int | float | Decimal):
        return type(found) is type(expected) and found == expected
    assert isinstance(expected, int | float)
    return abs(float(found) - expected) <= tolerance + EXACT * abs(expected)


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=[pytest.mark.django_db] if each.topic in IN_THE_DATABASE else [])
        for name, each in EXAMPLES.items()
        if name not in NOT_ANSWERED
    ],
)
def test_the_example_comes_out_within_its_tolerance(name):
    example = EXAMPLES[name]

    answers = ANSWERS[example.topic](example)

    for key, wanted in example.expected.items():
        if (name, key) in NOT_ANSWERED_IN_PART:
            continue
        shown = f"{example.topic} {name} {key}: {answers.get(key)!r} for {wanted} ({example.source}, {example.page})"
        assert matches(answers.get(key), wanted["value"], wanted["tolerance"] or 0), shown


def test_all_one_hundred_and_eighty_three_are_here():
    assert len(EXAMPLES) == 183


def test_what_is_not_answered_exists_and_says_why():
    parts = [name for name, key in NOT_ANSWERED_IN_PART if key in EXAMPLES[name].expected]

    assert set(NOT_ANSWERED) <= set(EXAMPLES)
    assert len(parts) == len(NOT_ANSWERED_IN_PART)
    assert all(len(reason) > 20 for reason in chain(NOT_ANSWERED.values(), NOT_ANSWERED_IN_PART.values()))


def test_each_example_names_its_source():
    assert all(each.source and each.page and each.note for each in EXAMPLES.values())


def test_a_wrong_answer_is_noticed():
    assert not matches(94.5, 94.3, 0.1)
    assert not matches([1.0, 2.0], [1.0, 2.1], 0)
    assert not matches(1, True, 0)
    assert not matches(None, 0, 0)
