"""Allowed values of register fields.

Words are those of EPA's national data elements for underground storage tanks (template of 3 Feb 2025), in lower case; a
value without an EPA element is a term of 40 CFR Part 280 or of the trade. `unknown` is something a register says; an
empty (null) field means that nobody said anything. Both judge as unknown, and neither is ever a no.
"""

from django.db.models import TextChoices


class Kind(TextChoices):
    """What a component is; each kind has a table of its own."""

    TANK_SYSTEM = "tank_system", "tank system"
    TANK = "tank", "tank"
    COMPARTMENT = "compartment", "compartment"
    PIPING_RUN = "piping_run", "piping run"
    SPILL_BUCKET = "spill_bucket", "spill bucket"
    OVERFILL_DEVICE = "overfill_device", "overfill device"
    CONTAINMENT_SUMP = "containment_sump", "containment sump"
    LINE_LEAK_DETECTOR = "line_leak_detector", "line leak detector"
    SENSOR = "sensor", "sensor"
    MONITORING_CONSOLE = "monitoring_console", "monitoring console"
    CATHODIC_PROTECTION = "cathodic_protection", "cathodic protection"
    MONITORING_WELL = "monitoring_well", "monitoring well"
    VENT = "vent", "vent"
    FILL_PORT = "fill_port", "fill port"
    DISPENSER = "dispenser", "dispenser"
    SHEAR_VALVE = "shear_valve", "shear valve"
    SHORE_VALVE = "shore_valve", "shore valve"
    EMERGENCY_SHUTOFF = "emergency_shutoff", "emergency shutoff"
    HOSE = "hose", "hose"
    VAC_PRESSURE_DEVICE = "vac_pressure_device", "vacuum or pressure device"
    HANDHELD_RD_DEVICE = "handheld_rd_device", "hand-held release-detection device"


class Status(TextChoices):
    """TankStatus, CompartmentStatus."""

    IN_USE = "currently in use"
    TEMPORARILY_OUT = "temporarily out of service"
    CLOSED_REMOVED = "closed removed from ground"
    CLOSED_IN_PLACE = "closed in place"
    CLOSED_GENERAL = "closed general"
    ABANDONED = "abandoned"
    OTHER = "other"
    UNKNOWN = "unknown"


class OwnerType(TextChoices):
    """OwnerType."""

    FEDERAL = "federal government - non military"
    STATE = "state government - non military"
    TRIBAL = "tribal government"
    LOCAL = "local government"
    COMMERCIAL = "commercial"
    PRIVATE = "private"
    MILITARY = "military"
    OTHER = "other"


class SpillWalkthrough(TextChoices):
    """How often spill equipment is looked at: 40 CFR 280.36(a)(1)(i) and its exception."""

    EVERY_30_DAYS = "every 30 days"
    BEFORE_DELIVERY = "before delivery"


class TankMaterial(TextChoices):
    """TankMaterialDescription."""

    FRP = "fiberglass reinforced plastic"
    BARE_STEEL = "asphalt coated or bare steel"
    CLAD_STEEL = "composite/clad steel w/fiberglass reinforced plastic"
    EPOXY_STEEL = "epoxy coated steel"
    COATED_CP_STEEL = "coated and cathodically protected steel"
    CP_STEEL = "cathodically protected steel without coating"
    JACKETED_STEEL = "jacketed steel"
    STEEL_NEC = "steel nec"
    CONCRETE = "concrete"
    OTHER = "other"
    UNKNOWN = "unknown"


class TankContainment(TextChoices):
    """TankSecondaryContainment."""

    SINGLE = "single wall"
    DOUBLE = "double wall"
    TRIPLE = "triple wall"
    JACKETED = "jacketed"
    LINER = "excavation liner"
    VAULT = "vault"
    RETROFIT = "tank-within-a-tank retrofit"
    OTHER = "other"
    UNKNOWN = "unknown"


class Interstice(TextChoices):
    """What is in the space between the walls."""

    NONE = "none"
    DRY = "dry"
    VACUUM = "vacuum"
    PRESSURE = "pressure"
    LIQUID = "liquid-filled"


class TankMethod(TextChoices):
    """Release-detection methods of a tank or compartment; a tank may use several."""

    INTERSTITIAL = "interstitial monitoring"
    ATG = "automatic tank gauging"
    MANUAL = "manual tank gauging"
    SIR = "statistical inventory reconciliation"
    TIGHTNESS = "tank tightness testing"
    INVENTORY = "inventory control"
    GROUNDWATER = "groundwater monitoring"
    VAPOR = "vapor monitoring"
    OTHER = "other"


class PipingMethod(TextChoices):
    """Release-detection methods of a piping run; a run may use several."""

    TEST_ANNUAL = "line tightness testing annual"
    TEST_3YR = "line tightness testing 3 yr"
    GROUNDWATER = "groundwater monitoring"
    VAPOR = "vapor monitoring"
    INTERSTITIAL = "interstitial monitoring"
    SIR = "statistical inventory reconciliation"
    OTHER = "other"


class PipingElection(TextChoices):
    """The one-of choice for older pressurised or suction piping: 40 CFR 280.41(b)(1)."""

    LINE_TIGHTNESS = "line tightness"
    MONTHLY = "monthly monitoring"


class PipingStyle(TextChoices):
    """PipingStyle."""

    SUCTION = "suction"
    PRESSURE = "pressure"
    HYDRANT = "hydrant"
    NON_OPERATIONAL = "non-operational"
    GRAVITY = "gravity"
    OTHER = "other"
    UNKNOWN = "unknown"
    NONE = "no piping"


class PipingWall(TextChoices):
    """PipingWallType."""

    SINGLE = "single walled"
    DOUBLE = "double walled"
    OTHER = "other"


class PipingMaterial(TextChoices):
    """PipingMaterial... flags; a run may be built of several."""

    FRP = "fiberglass reinforced plastic"
    GALVANIZED = "galvanized steel"
    STAINLESS = "stainless steel"
    STEEL = "steel"
    COPPER = "copper"
    FLEX = "flexible plastic"
    NONE = "no piping"
    OTHER = "other"
    UNKNOWN = "unknown"


class Wall(TextChoices):
    """SpillBucketWallType, PipeTankTopSumpWallType, DispenserUDCWallType."""

    SINGLE = "single"
    DOUBLE = "double"
    UNKNOWN = "unknown"


class TankProtection(TextChoices):
    """Corrosion protection of a tank shell."""

    NONE = "none"
    GALVANIC = "galvanic"
    IMPRESSED = "impressed current"
    NOT_REQUIRED = "not required"


class ProtectionSystem(TextChoices):
    """Type of a cathodic protection system."""

    GALVANIC = "galvanic"
    IMPRESSED = "impressed current"
    UNKNOWN = "unknown"


class OverfillType(TextChoices):
    """OverfillPrevention... flags in the words of 40 CFR 280.20(c)."""

    SHUTOFF = "automatic shutoff"
    ALARM = "high-level alarm"
    RESTRICTOR = "vent flow restrictor"
    OTHER = "other"
    UNKNOWN = "unknown"


class SumpPlace(TextChoices):
    """Where a containment sump sits."""

    TANK_TOP = "tank top"
    DISPENSER = "dispenser"
    TRANSITION = "transition"
    INTERMEDIATE = "intermediate"


class DetectorType(TextChoices):
    """How a line leak detector works."""

    MECHANICAL = "mechanical"
    ELECTRONIC = "electronic"


class DispenserPlace(TextChoices):
    """Where a dispenser stands."""

    LAND = "land"
    DOCK = "dock"


class PortUse(TextChoices):
    """What a riser on the tank is there for."""

    DELIVERY = "delivery"
    GAUGING = "gauging"
    SPARE = "spare access"


class Outcome(TextChoices):
    """What the tester reported; null when the report does not say."""

    PASS = "pass"
    FAIL = "fail"
    INCONCLUSIVE = "inconclusive"


class ChartSource(TextChoices):
    """Where a tank's chart comes from."""

    MAKER = "maker's chart"
    CALIBRATION = "site calibration"
    COMPUTED = "computed"


class LevelSource(TextChoices):
    """What showed how much a tank holds."""

    STICK = "stick"
    GAUGE = "gauge"


class LedgerBasis(TextChoices):
    """What a ledger's day opens with: the reading that closed the day before, or its book."""

    STICK = "stick"
    BOOK = "book"


class OrganisationKind(TextChoices):
    """What an organisation is here for."""

    OPERATOR = "operator"
    CONTRACTOR = "contractor"
    AGENCY = "agency"


class AccessRole(TextChoices):
    """In which capacity an organisation was let in to a facility."""

    OPERATOR = "operator"
    CONTRACTOR = "contractor"
    GATEWAY = "gateway"
    AGENCY = "agency"


class KeyRole(TextChoices):
    """What a key may do for its organisation. A gateway, which stands on a dock, only reads and delivers events."""

    MANAGER = "manager"
    STAFF = "staff"
    GATEWAY = "gateway"
    READER = "reader"
