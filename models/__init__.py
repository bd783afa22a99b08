"""The files of a plane: airframes, setups and parts in YAML, and the readers that turn them into `sim` objects.

Nothing is imported here, so that a command that reads no file pays for no reader.
Start at `models.loader`.
"""
