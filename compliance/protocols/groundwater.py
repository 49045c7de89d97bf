"""A monitoring well: free product on its water, and a water table that is not too deep (40 CFR 280.43(f)).

Less product than the method has to find is still product in the ground (280.50(a)): no pass, look closer.
Brine is heavier than water and sinks: a well shows no loss of it. Sheen from vessels confounds; note it beside.
"""

from compliance.protocols.readings import Readings
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Verdict, check, conclude, stated


def judge(readings: Readings, setting: Setting) -> Verdict:
    numbers = setting.numbers
    return conclude(
        [
            check(
                numbers.number("well-product"), readings.number("free_product_in"), needs=["free_product_in"]
            ),
            *stated(
                [
                    check(
                        numbers.number("well-any-product"),
                        readings.number("free_product_in"),
                        part="procedure",
                    )
                ]
            ),
            check(
                numbers.number("well-depth"),
                readings.number("depth_to_water_ft"),
                part="procedure",
                needs=["depth_to_water_ft"],
            ),
        ]
    )
