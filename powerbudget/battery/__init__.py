"""Chemistries as data; capacity, voltage and a bank as the tables that the balance reads."""
