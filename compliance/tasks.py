"""Background jobs; each only says "drain"."""
