"""A document written out: page, PDF, workbook."""
