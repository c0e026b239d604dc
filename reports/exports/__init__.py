"""Rows and records that go out as files."""
