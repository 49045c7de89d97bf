"""The usual class of each alarm condition: which clock it starts where the document does not say otherwise.

Sources: 40 CFR 280.50(a) for released product, (b) for unusual operating conditions, (c) for monitoring results.
Liquid in an interstice or a sump is (b), unless the document says that the required method found it.
Equipment faults and operating messages start no reporting clock.
"""

USUAL_CLASS = {
    "tank-test-fail": "monitoring result",
    "line-test-fail": "monitoring result",
    "line-leak-3-gph": "monitoring result",
    "line-leak-0-2-gph": "monitoring result",
    "line-leak-0-1-gph": "monitoring result",
    "line-leak-detector-trip": "monitoring result",
    "interstice-vacuum-lost": "monitoring result",
    "monitoring-liquid-low": "monitoring result",
    "monitoring-liquid-high": "monitoring result",
    "inventory-over-limit": "monitoring result",
    "vapour-or-groundwater-well": "monitoring result",
    "tank-interstice-liquid": "unusual operating condition",
    "piping-interstice-liquid": "unusual operating condition",
    "sump-fuel": "unusual operating condition",
    "sump-liquid": "unusual operating condition",
    "high-water": "unusual operating condition",
    "erratic-dispensing": "unusual operating condition",
    "sudden-loss": "unusual operating condition",
    "product-found-outside": "released product",
    "sensor-fault": "equipment fault",
    "console-fault": "equipment fault",
    "power-lost": "equipment fault",
    "overfill-level": "operating",
    "overfill-90-percent": "operating",
    "overfill-95-percent": "operating",
    "high-product": "operating",
    "low-product": "operating",
    "delivery-needed": "operating",
    "emergency-stop": "operating",
    "test-due": "operating",
}
