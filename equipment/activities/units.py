"""Units as they stand at the end of a measurement's name: `leak_rate_gph` is in gallons an hour.

US customary units, as in 40 CFR Part 280; electrical units are SI. A count or a ratio has no unit, and
its name carries none: the catalogue says `unit = "count"` or `unit = "ratio"` instead.
"""

UNITS = {
    "amps": "amperes",
    "degf": "degrees Fahrenheit",
    "ft": "feet",
    "gal": "US gallons of 231 cubic inches",
    "gph": "US gallons an hour",
    "gpm": "US gallons a minute",
    "h": "hours",
    "hours": "hours",
    "in": "inches",
    "in_hg": "inches of mercury",
    "in_wc": "inches of water column",
    "min": "minutes",
    "minutes": "minutes",
    "ml": "millilitres",
    "mil": "mils (thousandths of an inch)",
    "mv": "millivolts",
    "ohms": "ohms",
    "pct": "percent",
    "ppm": "parts per million",
    "psi": "pounds a square inch (gauge)",
    "s": "seconds",
    "sg": "times the density of fresh water at 60 °F",
    "usd": "US dollars",
    "volts": "volts",
}

# Names in which the unit's word does not stand last.
NAMED = {
    "hours_meter": "hours",
    "minutes_to_detect": "minutes",
    "specific_gravity": "sg",
    "sg_product": "sg",
    "sg_groundwater": "sg",
}

UNITLESS = frozenset({"count", "ratio"})


def unit_of(name: str) -> str | None:
    """The unit that a measurement's name states, spelled out; None when the name states none."""
    suffix = unit_suffix(name)
    return UNITS[suffix] if suffix else NAMED.get(name)


def unit_suffix(name: str) -> str | None:
    """The last part of a name that is a unit: `in_wc` of `vacuum_end_in_wc`, never the shorter `wc`."""
    words = name.split("_")
    for length in (2, 1):
        suffix = "_".join(words[-length:])
        if length <= len(words) and suffix in UNITS:
            return suffix
    return None


def suffix_of(name: str) -> str | None:
    """The unit that a measurement's name states, as names abbreviate it, wherever in the name it stands."""
    return unit_suffix(name) or NAMED.get(name)


def stem(name: str) -> str:
    """The name without its unit: `leak_rate` of `leak_rate_gph`. Empty when the unit is the whole name."""
    suffix = unit_suffix(name)
    return name[: -len(suffix)].rstrip("_") if suffix else name
