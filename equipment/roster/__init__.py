"""Reads a state's tank roster (a CSV file) by a mapping file. Pure: no database and no clock."""
