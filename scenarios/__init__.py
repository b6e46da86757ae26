"""Inputs, studies and the command line."""
