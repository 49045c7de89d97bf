"""An invented look at a liquid-filled space: as sent, and as the service answers it (tables shortened)."""

from typing import Any

STATED: dict[str, Any] = {
    "space": {"liquid_gal": 100, "free_surface_in2": 12.566, "mass_pct": 30},
    "levels": {
        "reservoir_in": 99,
        "tank_height_in": 96,
        "product_in": {"value": 1524, "unit": "mm"},
        "sg_product": 0.74,
        "groundwater_in": 40,
    },
    "readings": [
        {"at": "2026-02-20T14:00:00Z", "level_in": 5.0, "temperature_degf": 52.1},
        {"at": "2026-02-21T14:00:00Z", "level_in": 4.375, "temperature_degf": 53.0},
        {"at": "2026-02-22T14:00:00Z", "level_in": 3.125, "temperature_degf": 52.4},
        {"at": "2026-02-23T14:00:00Z", "level_in": 1.875, "temperature_degf": 51.8},
        {"at": "2026-02-24T14:00:00Z", "level_in": 1.125, "temperature_degf": 52.6},
        {"at": "2026-02-25T14:00:00Z", "level_in": 0.25, "temperature_degf": 53.1},
        {"at": "2026-02-26T14:00:00Z", "level_in": -1.125, "temperature_degf": 52.2},
        {"at": "2026-02-27T14:00:00Z", "level_in": -2.25, "temperature_degf": 51.9},
        {"at": "2026-02-28T14:00:00Z", "level_in": -3.0, "temperature_degf": 52.5},
        {"at": "2026-03-01T14:00:00Z", "level_in": -4.25, "temperature_degf": 52.0},
    ],
}
ANSWERED: dict[str, Any] = {
    "id": 7,
    "submitted_by": "Point Marinas",
    "recorded_at": "2026-03-04T19:31:00Z",
    "recorded_by": "R. Ames",
    "withdrawn_at": None,
    "withdrawn_reason": None,
    "withdrawn_by": None,
    "alarm": 12,
    "stated": STATED,
    "answer": {
        "result": "loss",
        "sentence": (
            "Result: loss. From the first to the last readings the level moved -9.25 in; temperature "
            "explains -0.04 in, give or take 0.13. With temperature taken out it moves -1.0281 in a "
            "day, give or take 0.0086 (95 percent): -0.056 gal a day."
        ),
        "numbers": {
            "observed_in": -9.25,
            "expected_in": -0.041885,
            "band_in": 0.131283,
            "expected_in_a_kelvin": 0.753928,
            "seen_in_a_kelvin": 0.688043,
            "drift_in_a_day": -1.028105,
            "drift_error": 0.003657,
            "drift_margin": 0.008648,
            "gallons_a_day": -0.055927,
            "errors_from_zero": 281.125542,
            "errors_needed": 14.24147,
            "tide_correlation": None,
            "bottom_water_rise_in": None,
            "specific_gravity": 1.285801,
            "expansion_per_k": 0.00041,
        },
        "breaches": [
            {
                "wall": "inner",
                "place": "tank bottom",
                "height_in": 0.0,
                "direction": "down",
                "flow": "liquid into the fuel, where it sinks and reads as bottom water",
                "silent_at_in": 172.019387,
                "fits": True,
            },
            {
                "wall": "outer",
                "place": "tank bottom",
                "height_in": 0.0,
                "direction": "down",
                "flow": "liquid into the ground",
                "silent_at_in": 127.294346,
                "fits": True,
            },
        ],
        "sayings": [
            {
                "saying": "A high alarm means the inner wall leaks.",
                "physics": (
                    "Not with a liquid that is heavier than the fuel and stands above it: through a wetted "
                    "inner wall it runs out and the level falls. Only vapor pressure at a hole near the top "
                    "lifts it. The saying comes from dry spaces."
                ),
                "here": "At the tank bottom fuel would have to stand 172.0 in high to come in; it stands at 60.0 in.",
                "bears_here": False,
            },
            {
                "saying": "High ground water gives a high alarm.",
                "physics": (
                    "Only where its head at the hole is greater than that of the liquid, which is heavier. With "
                    "ground water level with the tank top a low hole still drains, and the level falls."
                ),
                "here": (
                    "To come in, it has to stand above 127.3 in for a hole at tank bottom, 113.6 in for a hole "
                    "at mid-height, 99.9 in for a hole at tank top (inches above the tank bottom). It stands at "
                    "40.0 in."
                ),
                "bears_here": False,
            },
        ],
        "notes": [],
        "advice": (
            "This is advice beside the alarm and decides nothing: it clears no alarm, answers no clock "
            "and is no disposition. A suspected release stays one until it is cleared in the way of 40 "
            "CFR 280.50, and liquid that had to be topped up without a known cause is a finding of its "
            "own. Where local codes, the maker's instructions or a licensed tester say otherwise, they "
            "come first."
        ),
        "cautions": [
            (
                "Lift lids with two people or a lifting tool, feet clear; never leave the hole open and "
                "unwatched, and put the seal back so that water stays out."
            )
        ],
    },
}
