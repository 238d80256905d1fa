"""One file a version of the record."""
