"""A second renderer of marked undersides: shows what holds only on the first one's pictures. Nothing is fitted on it."""
