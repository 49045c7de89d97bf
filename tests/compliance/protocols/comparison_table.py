"""The comparison table of the trade: at which side of each limit equality lies, row by row with its source.

Each case of a row is a test whose number stands exactly on the limit; `beyond` is the same test a hair further out, and
`within` a hair further in. `equality` is what the table says of the number on the limit.
"""

from collections.abc import Mapping
from typing import Literal

import msgspec

from compliance.protocols import Setting, Verdict
from compliance.protocols.overfill import ALARM, RESTRICTOR, SHUTOFF
from tests.compliance.protocols.worked import FEDERAL, judged

Numbers = Mapping[str, object]


class Case(msgspec.Struct, frozen=True, kw_only=True):
    """One test on the limit, beside it within and beyond. `changed`: what moves, as (within, on the limit, beyond)."""

    activity: str
    changed: Mapping[str, tuple[object, object, object]]
    fixed: Numbers = {}
    setting: Setting = FEDERAL

    def judged(self, place: Literal["within", "on", "beyond"]) -> Verdict:
        at = ("within", "on", "beyond").index(place)
        numbers = {name: values[at] for name, values in self.changed.items()}
        return judged(self.activity, self.setting, **{**self.fixed, **numbers})


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """A row: what is checked, what passes in the table's words, which way equality goes, and where that stands."""

    check: str
    pass_when: str
    equality: Literal["pass", "fail"]
    source: str
    cases: tuple[Case, ...]
    beyond: str = "fail"


def under(*jurisdictions: str, device: str | None = None) -> Setting:
    return Setting(on=FEDERAL.on, jurisdictions=jurisdictions, overfill_type=device)


def month(pumped: float, within: float, on: float, beyond: float, *jurisdictions: str) -> Case:
    return Case(
        activity="inventory-month",
        fixed={"throughput_gal": pumped},
        changed={"net_gal": (within, on, beyond)},
        setting=under(*jurisdictions),
    )


def gauged(tank_class: str, hours: float, weekly: float, monthly: float) -> tuple[Case, ...]:
    fixed = {"tank_class": tank_class, "hours": hours}
    hair = 0.001
    return tuple(
        Case(
            activity="manual-tank-gauging",
            fixed=fixed | {other: 0},
            changed={name: (sign * (limit - hair), sign * limit, sign * (limit + hair))},
        )
        for name, other, limit in (
            ("difference_gal", "month_mean_gal", weekly),
            ("month_mean_gal", "difference_gal", monthly),
        )
        for sign in (1, -1)
    )


def water(activity: str, *signs: int) -> tuple[Case, ...]:
    fixed = {"method": "liquid", "minutes": 60}
    return tuple(
        Case(
            activity=activity,
            fixed=fixed,
            changed={"level_change_in": (sign * 0.1249, sign * 0.125, sign * 0.1251)},
        )
        for sign in signs
    )


def device(kind: str, **changed: tuple[object, object, object]) -> Case:
    fixed: Numbers = {"acts_at_level": True, "capacity_gal": 10_000}
    return Case(
        activity="overfill-inspection",
        fixed=fixed,
        changed=changed,
        setting=under("us-federal", device=kind),
    )


def rated(activity: str, sign: int = 1, **fixed: object) -> Case:
    rates = (sign * 0.0499, sign * 0.05, sign * 0.0501)
    return Case(activity=activity, fixed={"threshold_gph": 0.05} | fixed, changed={"leak_rate_gph": rates})


def point(instant_off: float) -> list[Numbers]:
    """One reading of a structure whose native potential is -500 mV: the shift is the difference."""
    return [{"structure": "T1", "native_mv": -500, "instant_off_mv": instant_off}]


SIR = {"method": "statistical inventory reconciliation"}
CATHODIC = "cathodic-protection-test"

ROWS = (
    Row(
        check="Monthly inventory, federal",
        pass_when="abs(over/short) <= 1.0 % of gallons pumped + 130 gal",
        equality="pass",
        source='40 CFR 280.43(a); strictness read from the Maine form\'s "greater than"',
        cases=(
            month(8_000, -209.9, -210, -210.1, "us-federal"),
            month(8_000, 209.9, 210, 210.1, "us-federal"),
            month(0, -129.9, -130, -130.1, "us-federal"),
        ),
    ),
    Row(
        check="Monthly inventory, Maine",
        pass_when="abs(cumulative over/short) <= 1.0 % of pumped",
        equality="pass",
        source="Maine DEP UST-08",
        cases=(month(500, 4.9, 5, 5.1, "us-me"), month(500, -4.9, -5, -5.1, "us-me")),
    ),
    Row(
        check="Monthly inventory, Wisconsin",
        pass_when="loss <= 0.5 % of throughput (gains not tested)",
        equality="pass",
        source="Wisconsin operator course 4.4.2",
        cases=(month(1_000, -4.9, -5, -5.1, "us-wi"),),
    ),
    Row(
        check="Manual gauging, weekly and monthly",
        pass_when="abs(change) <= standard",
        equality="pass",
        source='EPA manual tank gauging table: the standard is "exceeded", not met',
        cases=(
            *gauged("up to 550 gal", 36, 10, 5),
            *gauged("551 to 1,000 gal, 64 in diameter", 44, 9, 4),
            *gauged("1,000 gal, 48 in diameter", 58, 12, 6),
            *gauged("1,001 to 2,000 gal with tightness tests", 36, 26, 13),
        ),
    ),
    Row(
        check="Spill bucket, water, 1 h",
        pass_when="drop < 0.125 in",
        equality="fail",
        source="PEI RP 1200 section 6.2.6",
        cases=water("spill-bucket-test", 1),
    ),
    Row(
        check="Spill bucket, vacuum, 1 min",
        pass_when="end vacuum >= 26 in w.c.",
        equality="pass",
        source="PEI RP 1200 section 6.3, by a contractor's summary",
        cases=(
            Case(
                activity="spill-bucket-test",
                fixed={"method": "vacuum", "minutes": 1, "vacuum_start_in_wc": 30},
                changed={"vacuum_end_in_wc": (26.01, 26, 25.99)},
            ),
        ),
    ),
    Row(
        check="Containment sump, water, 1 h",
        pass_when="abs(level change) < 0.125 in",
        equality="fail",
        source="PEI RP 1200 section 6.5.7",
        cases=water("sump-test", 1, -1),
    ),
    Row(
        check="Auto shutoff",
        pass_when="volume at shutoff <= 95 % of capacity",
        equality="pass",
        source="40 CFR 280.20(c)(1)(ii)(A); EPA shut-off page",
        cases=(device(SHUTOFF, acts_volume_gal=(9_499.99, 9_500, 9_500.01)),),
    ),
    Row(
        check="Overfill alarm",
        pass_when="activates at <= 90 % or >= 1 min before overfill",
        equality="pass",
        source="40 CFR 280.20(c)(1)(ii)(B) and (C); EPA alarm page",
        cases=(
            device(ALARM, acts_volume_gal=(8_999.99, 9_000, 9_000.01)),
            device(ALARM, acts_volume_gal=(9_600,) * 3, before_full_min=(1.01, 1, 0.99)),
            device(RESTRICTOR, acts_volume_gal=(8_999.99, 9_000, 9_000.01)),
            device(RESTRICTOR, acts_volume_gal=(9_400,) * 3, before_full_min=(30.1, 30, 29.9)),
        ),
    ),
    Row(
        check="Tightness / SIR result",
        pass_when="abs(rate) < threshold",
        equality="fail",
        source="state evaluation listings; EPA/530/UST-90/007 practice: meets or exceeds is a leak",
        cases=(
            rated("tank-tightness-test"),
            rated("tank-tightness-test", -1),
            rated("line-tightness-test", pressure_ratio=1.5),
            rated("electronic-line-test", pressure_ratio=1.5),
            rated("tank-monitoring-result", method="automatic tank gauging"),
            rated("tank-monitoring-result", minimum_detectable_gph=0.2, **SIR),
            rated("piping-monitoring-result", method="line tightness testing annual"),
        ),
    ),
    Row(
        check="SIR conclusive",
        pass_when="minimum detectable rate <= 0.2 gph and threshold <= half of it",
        equality="pass",
        source="20 DCMR 6012.2; 23 CCR 2643",
        beyond="inconclusive",
        cases=(
            Case(
                activity="tank-monitoring-result",
                fixed=SIR | {"leak_rate_gph": 0.01, "threshold_gph": 0.09},
                changed={"minimum_detectable_gph": (0.1999, 0.2, 0.2001)},
            ),
            Case(
                activity="tank-monitoring-result",
                fixed=SIR | {"leak_rate_gph": 0.01, "minimum_detectable_gph": 0.18},
                changed={"threshold_gph": (0.0899, 0.09, 0.0901)},
            ),
        ),
    ),
    Row(
        check="CP polarisation",
        pass_when=">= 100 mV",
        equality="pass",
        source="NACE TM0101-2001 section 10.3.6.1",
        cases=(Case(activity=CATHODIC, changed={"readings": (point(-601), point(-600), point(-599))}),),
    ),
    Row(
        check="CP potential",
        pass_when="<= -850 mV vs CSE (at least as negative)",
        equality="pass",
        source="NACE criterion, as stated in public guidance",
        cases=(Case(activity=CATHODIC, changed={"lowest_mv": (-851, -850, -849)}),),
    ),
)
