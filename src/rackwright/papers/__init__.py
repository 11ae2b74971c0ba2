"""Sheets for the crew, made from a rig's assessment: what to plug where, printed before anything is powered.

`contents` says which sheets there are, a module per subject makes them as values (`document`), and a module per format
writes such a value out as bytes. Only `output` writes files; `readings` and `imported` have spreadsheets read.
"""
