"""Spreadsheets: one reader for all that comes in, as CSV or as a workbook, and one writer, which writes CSV.

`cells` makes rows of cells of a file, `workbook` of an .xlsx, .xls or .ods in a process of its own, `columns` finds what a column
is by its head, `equipment` and `lists` make things of rows, `export` rows of things. Nothing here changes a rig or a library.
"""
