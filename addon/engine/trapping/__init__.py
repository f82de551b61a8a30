"""Trapped gas and drag-out for a way up."""
