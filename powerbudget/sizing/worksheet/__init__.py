"""The hand worksheet after IEEE 1013 and IEEE 1562, and the record held against it."""
