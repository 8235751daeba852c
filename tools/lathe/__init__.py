"""A second renderer of marked undersides, to tell what holds on the first one's pictures only.

Nothing is fitted on what it draws."""
