"""The use cases, one function each: load, call, keep, hand back."""
