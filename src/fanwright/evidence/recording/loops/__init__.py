"""The loops behind the readers, written to be compiled."""
