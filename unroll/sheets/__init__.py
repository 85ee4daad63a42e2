"""The sheet of measures: read, checked, estimated, written blank."""
