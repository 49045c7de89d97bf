"""Test protocols: pass or fail from raw measurements. Pure: no database, no clock, numbers from the TOML files here."""

from compliance.protocols.counting import Counted, counted
from compliance.protocols.registry import verdict
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, Verdict

__all__ = ["Check", "Counted", "Setting", "Verdict", "counted", "verdict"]
