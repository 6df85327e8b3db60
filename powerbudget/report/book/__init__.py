"""The calculation package as a workbook with live formulas."""
