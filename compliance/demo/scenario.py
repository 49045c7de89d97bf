"""The invented world of the demo: names, waters and equipment. None of it exists.

What was done there is dated back from the day on which the demo runs (`history`), so that the portfolio is fresh.
"""

from dataclasses import dataclass, field
from datetime import date

OPERATOR = "Quillback Harbor Company"
CONTRACTOR = "Plumbob Tank Testing"
GATEWAY = "Quillback site gateways"


@dataclass(frozen=True)
class Line:
    """One tank with everything that hangs on it. Without an installation date, nobody knows it any more."""

    product: str
    capacity_gal: int
    installed_on: date | None
    double_wall: bool = False
    overfill: str = "automatic shutoff"
    place: str = "dock"


@dataclass(frozen=True)
class Site:
    """A marina, and what goes wrong there: slips name the habits that the record shows."""

    code: str
    name: str
    water: str
    city: str
    state: str
    time_zone: str
    lines: tuple[Line, ...]
    floating: bool = True
    slips: frozenset[str] = field(default_factory=frozenset)


GASOLINE = "gasoline (non-ethanol)"
DIESEL = "diesel fuel (b-unknown)"

SITES = (
    Site(
        "CORMORANT",
        "Cormorant Stairs Marina",
        "Lake Ossabel",
        "Ossabel Landing",
        "WI",
        "America/Chicago",
        (Line(GASOLINE, 10_000, date(2008, 4, 14)), Line(DIESEL, 6_000, date(2008, 4, 14))),
        slips=frozenset({"walkthrough skipped", "pass over failing numbers"}),
    ),
    Site(
        "TERN",
        "Tern Rock Yacht Basin",
        "Vennick Sound",
        "Port Vennick",
        "WA",
        "America/Los_Angeles",
        (
            Line(GASOLINE, 12_000, date(2020, 3, 2), double_wall=True),
            Line(DIESEL, 12_000, date(2020, 3, 2), double_wall=True),
        ),
    ),
    Site(
        "MALLARD",
        "Mallard Ferry Docks",
        "the Wendrow River",
        "Wendrow",
        "WI",
        "America/Chicago",
        (Line(GASOLINE, 8_000, date(2002, 9, 30), overfill="high-level alarm"),),
        floating=False,
        slips=frozenset({"detector test overdue"}),
    ),
    Site(
        "GANNET",
        "Gannet Light Marina",
        "Marrowby Bay",
        "Marrowby",
        "FL",
        "America/New_York",
        (
            Line(GASOLINE, 10_000, date(2012, 2, 29)),
            Line(DIESEL, 10_000, date(2012, 2, 29)),
            Line(GASOLINE, 4_000, date(2013, 6, 10), place="land"),
        ),
        slips=frozenset({"bucket failed", "alarm unanswered"}),
    ),
    Site(
        "PINTAIL",
        "Pintail Reach Boatyard",
        "Tallow Creek",
        "Tallow Mills",
        "FL",
        "America/New_York",
        (Line(DIESEL, 5_000, None),),
        slips=frozenset({"paper missing", "installation unknown"}),
    ),
    Site(
        "OSPREY",
        "Osprey Chain Fuel Dock",
        "Lake Harrowmere",
        "Harrowmere",
        "WA",
        "America/Los_Angeles",
        (Line(GASOLINE, 10_000, date(2014, 11, 3)), Line(DIESEL, 8_000, date(2014, 11, 3))),
        slips=frozenset({"monitoring late", "device without numbers"}),
    ),
)

# Told where no call list reaches anybody.
FALLBACK = (("Harbor office", "office@quillback.example"), ("Owner", "owner@quillback.example"))
CALL_LIST = (
    (0, (("Dock desk", "dock@{site}.quillback.example"),)),
    (15, (("Area manager", "area@quillback.example"),)),
    (45, (("Compliance lead", "compliance@quillback.example"), ("Owner", "owner@quillback.example"))),
)
