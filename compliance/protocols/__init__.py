"""Test protocols: pass or fail from raw measurements. Pure: no database, no clock, numbers from the TOML files here."""

from compliance.protocols.registry import verdict
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, Verdict

__all__ = ["Check", "Setting", "Verdict", "verdict"]
