"""Physics of tanks, lines and fluids: geometry, charts, expansion, leak rates, units. No database, no clock.

Lengths are in inches, volumes in US gallons of 231 cubic inches, unless a name says otherwise.
"""
