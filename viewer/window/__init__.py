"""The window of a replay."""
