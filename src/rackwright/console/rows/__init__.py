"""Rows for the panes: pure functions from an assessment to lines of words and marks, each knowing its place."""
