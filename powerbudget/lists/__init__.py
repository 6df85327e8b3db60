"""Client's lists: signals and equipment, read from any spreadsheet.

From file to site: cells -> tables -> columns -> rows -> questions and site text.
"""
