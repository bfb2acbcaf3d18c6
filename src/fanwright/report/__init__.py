"""Pictures, sheets and sentences for people."""
