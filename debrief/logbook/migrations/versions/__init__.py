"""One module a step, in order of their numbers. A step that was released is never changed."""
