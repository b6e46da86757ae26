"""Workbooks, lists and summaries written from a plan."""
