"""Words of two national data elements whose columns are free text in the register.

Source: EPA UST data template of 3 Feb 2025, tabs "Facility Types" and "Substances", in lower case as everywhere in the
register. All other lists are the choices of the register's own columns.
"""

FACILITY_TYPES: tuple[str, ...] = (
    "agricultural/farm",
    "auto dealership/auto maintenance & repair",
    "aviation/airport (non-rental car)",
    "bulk plant storage/petroleum distributor",
    "commercial",
    "contractor",
    "federal government, non-military",
    "hospital (or other medical)",
    "industrial",
    "marina",
    "military",
    "other",
    "railroad",
    "rental car",
    "residential",
    "retail fuel sales (non-marina)",
    "school",
    "state/local government",
    "telecommunication facility",
    "trucking/transport/fleet operation",
    "unknown",
    "utility",
    "wholesale",
)

_AVIATION = (
    "aviation biofuel",
    "aviation gasoline",
    "biojet (diesel)",
    "jet fuel a",
    "jet fuel b",
    "sustainable aviation fuel/aviation fuel blend",
    "unknown aviation gas or jet fuel",
)
_DIESEL = (
    "100% biodiesel (b100, not federally regulated)",
    "80% renewable diesel, 20% biodiesel",
    "95% renewable diesel, 5% biodiesel",
    "99.9 percent renewable diesel, 0.01% biodiesel",
    "astm d975 diesel (known 100% renewable diesel)",
    "diesel blend containing 99% to less than 100% biodiesel",
    "diesel blend containing greater than 20% and less than 99% biodiesel",
    "diesel blends containing greater than 5% and up to 20% or less biodiesel",
    "diesel fuel (astm d975), can contain 0-5% biodiesel",
    "diesel fuel (b-unknown)",
    "diesel fuel (known to contain 0% biodiesel)",
    "off-road diesel/dyed diesel",
    "other unlisted blend containing any other mixture of diesel, renewable diesel, or 20% biodiesel or less",
    "other unlisted blend containing any other mixture of diesel, renewable diesel, or more than 20% biodiesel",
)
_GASOLINE = (
    "e-85/flex fuel (e51-e83)",
    "ethanol blend gasoline (e-unknown)",
    "gasoline (non-ethanol)",
    "gasoline (unknown type)",
    "gasoline e-10 (e1-e10)",
    "gasoline e-15 (e-11-e15)",
    "gasoline/ethanol blend containing more than 83% and less than 98% ethanol",
    "gasoline/ethanol blends e16-e50",
    "leaded gasoline",
    "racing fuel",
)
_HEATING = (
    "biofuel/bioheat",
    "heating oil/fuel oil 1",
    "heating oil/fuel oil 2",
    "heating oil/fuel oil 4",
    "heating oil/fuel oil 5",
    "heating oil/fuel oil 6",
    "heating/fuel oil # unknown",
)
_OIL = ("hydraulic oil", "lube/motor oil (new)", "used oil/waste oil")
_OTHER = (
    "antifreeze",
    "denatured ethanol (98%)",
    "diesel exhaust fluid (def, not federally regulated)",
    "hazardous substance",
    "kerosene",
    "marine fuel",
    "mtbe",
    "non-federally regulated substance (general)",
    "other or mixture",
    "petroleum product",
    "solvent",
    "unknown",
)
SUBSTANCES: tuple[str, ...] = _AVIATION + _DIESEL + _GASOLINE + _HEATING + _OIL + _OTHER
